/** The way to the daemon: gRPC-Web over `fetch`, in browsers and in Node. */

import { type Client, createClient, type Interceptor, type Transport } from "@connectrpc/connect";
import { createGrpcWebTransport } from "@connectrpc/connect-web";

import { services } from "./gen/index.js";

/** Where the daemon listens unless told otherwise. */
const DEFAULT_SERVER = "127.0.0.1:7575";

/** After which a call ends unless told otherwise, milliseconds. */
const DEFAULT_TIMEOUT_MS = 10_000;

/** A client of each service: `JobService` is `job`, and so on. */
export type Lamella = {
  readonly [Name in keyof typeof services]: Client<(typeof services)[Name]>;
};

/** How to call. */
export interface ConnectOptions {
  /**
   * Deadline of calls that give no `timeoutMs` of their own, milliseconds.
   * 10 000 unless set; 0 for none. Streams have none unless they give one: a
   * watch is meant to last.
   */
  defaultTimeoutMs?: number;
  /** What every call passes through, the first one outermost. */
  interceptors?: Interceptor[];
  /** In place of the global `fetch`. */
  fetch?: typeof globalThis.fetch;
}

/**
 * Gives a client of each service. Nothing is sent before the first call.
 *
 * @param server `http://HOST:PORT`, `https://HOST:PORT` or `HOST:PORT`. Unset: the
 *   environment's `LAMELLA_SERVER` where there is an environment, else
 *   `127.0.0.1:7575`.
 * @throws TypeError when `server` is of no such form. A `unix:` address cannot be
 *   reached by `fetch`.
 */
export function connect(server: string = serverFromEnvironment(), options: ConnectOptions = {}): Lamella {
  const transport = withDefaultTimeout(
    createGrpcWebTransport({
      baseUrl: baseUrl(server),
      interceptors: options.interceptors ?? [],
      ...(options.fetch === undefined ? {} : { fetch: options.fetch }),
    }),
    options.defaultTimeoutMs ?? DEFAULT_TIMEOUT_MS,
  );
  const clients = Object.entries(services).map(([name, service]) => [name, createClient(service, transport)]);
  return Object.fromEntries(clients) as Lamella;
}

/** Without Node's types, which a browser does not have. */
function serverFromEnvironment(): string {
  const { process } = globalThis as { process?: { env?: Record<string, string | undefined> } };
  return process?.env?.["LAMELLA_SERVER"] || DEFAULT_SERVER;
}

function baseUrl(server: string): string {
  const expected = "expected http://HOST:PORT, https://HOST:PORT or HOST:PORT";
  if (server.startsWith("unix:")) {
    throw new TypeError(`\`${server}\` is a socket, which fetch cannot reach; ${expected}`);
  }
  const text = /^https?:\/\//.test(server) ? server : `http://${server}`;
  if (!URL.canParse(text)) {
    throw new TypeError(`\`${server}\` is no address; ${expected}`);
  }
  return text.replace(/\/+$/, "");
}

/** The transport's own default would end streams too. */
function withDefaultTimeout(transport: Transport, defaultMs: number): Transport {
  return {
    unary: (method, signal, timeoutMs, header, input, contextValues) =>
      transport.unary(method, signal, timeoutMs ?? (defaultMs || undefined), header, input, contextValues),
    stream: (method, signal, timeoutMs, header, input, contextValues) =>
      transport.stream(method, signal, timeoutMs, header, input, contextValues),
  };
}
