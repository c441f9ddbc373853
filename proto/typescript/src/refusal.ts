/** What an error of the daemon says: code, reason, fields, conditions. */

import { Code, ConnectError } from "@connectrpc/connect";

import { BadRequestSchema, ErrorInfoSchema, PreconditionFailureSchema } from "./standard/google/rpc/error_details_pb.js";

/** One fault of one field. */
export interface Violation {
  /** Path of the field, for example `job.display_name`. */
  readonly field: string;
  /** What is wrong with it. */
  readonly description: string;
}

/** One condition that is not met. */
export interface Condition {
  /** Stable, in upper case, for example `PANEL_NOT_MEASURED`. */
  readonly type: string;
  /** What it is about, for example `panels/hood`. */
  readonly subject: string;
  /** What is missing. */
  readonly description: string;
}

/** Why a call failed. */
export interface Refusal {
  /** The canonical gRPC code. */
  readonly code: Code;
  /** The code's name, for example `FAILED_PRECONDITION`. */
  readonly codeName: string;
  /** Stable, in upper case, for example `CONDITIONS_UNMET`; empty when the error did not come from the daemon. */
  readonly reason: string;
  /** For people: what was wrong, what was expected, where. */
  readonly message: string;
  /** Faults of the request, one for each. */
  readonly violations: readonly Violation[];
  /** Conditions that are not met, one for each. */
  readonly conditions: readonly Condition[];
}

/**
 * What an error says. Anything that is not an error of a call, such as a fault in
 * the caller's own program, comes out with the code `UNKNOWN` and no reason.
 */
export function refusalOf(error: unknown): Refusal {
  const failure = ConnectError.from(error);
  return {
    code: failure.code,
    codeName: (Code[failure.code] ?? "Unknown").replace(/(?<=[a-z])(?=[A-Z])/g, "_").toUpperCase(),
    reason: failure.findDetails(ErrorInfoSchema)[0]?.reason ?? "",
    message: failure.rawMessage,
    violations: failure.findDetails(BadRequestSchema).flatMap((found) =>
      found.fieldViolations.map(({ field, description }) => ({ field, description })),
    ),
    conditions: failure.findDetails(PreconditionFailureSchema).flatMap((found) =>
      found.violations.map(({ type, subject, description }) => ({ type, subject, description })),
    ),
  };
}
