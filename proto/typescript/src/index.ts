/**
 * Typed client of the `lamella.v1` API.
 *
 * - {@link connect}: a client of each service
 * - {@link refusalOf}: what an error says, in a form that a program can act on
 * - every message and enum of the API, and what is needed to make and read them
 */

export { connect, type ConnectOptions, type Lamella } from "./connect.js";
export { type Condition, refusalOf, type Refusal, type Violation } from "./refusal.js";
export * from "./gen/index.js";

// From the libraries below, so that a program needs to name this package only.
export { clone, create, equals, fromJson, toJson, type MessageInitShape } from "@bufbuild/protobuf";
export {
  type Duration,
  type Timestamp,
  timestampDate,
  timestampFromDate,
  timestampNow,
} from "@bufbuild/protobuf/wkt";
export { Code, ConnectError } from "@connectrpc/connect";
