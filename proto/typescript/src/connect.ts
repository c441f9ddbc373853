/**
 * The way to the daemon: gRPC-Web over `fetch`, in browsers and in Node. `fetch` cannot
 * stream to the daemon; node.ts has the way that can.
 */

import { type CallOptions, type Client, createClient, type Interceptor, type Transport } from "@connectrpc/connect";
import type { DescService } from "@bufbuild/protobuf";
import { createGrpcWebTransport } from "@connectrpc/connect-web";

import { services } from "./gen/index.js";

/** Where the daemon listens unless told otherwise. */
const DEFAULT_SERVER = "127.0.0.1:7575";

/** After which a call ends unless told otherwise, milliseconds. */
const DEFAULT_TIMEOUT_MS = 10_000;

/**
 * A client of each service: `JobService` is `job`, and so on. A stream ends when the
 * loop over it is left.
 */
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
  const transport = createGrpcWebTransport({
    baseUrl: baseUrl(server),
    interceptors: options.interceptors ?? [],
    ...(options.fetch === undefined ? {} : { fetch: options.fetch }),
  });
  return clientsOver(transport, options.defaultTimeoutMs);
}

/** A client of each service over any transport. */
export function clientsOver(transport: Transport, defaultTimeoutMs = DEFAULT_TIMEOUT_MS): Lamella {
  const limited = withDefaultTimeout(transport, defaultTimeoutMs);
  const clients = Object.entries(services).map(([name, service]) => [name, client(service, limited)]);
  return Object.fromEntries(clients) as Lamella;
}

function client(service: (typeof services)[keyof typeof services], transport: Transport): object {
  const made = createClient<DescService>(service, transport) as Record<string, unknown>;
  for (const { localName, methodKind } of service.methods) {
    if (methodKind === "server_streaming") {
      made[localName] = endedWhenLeft(made[localName] as Streaming);
    }
  }
  return made;
}

type Streaming = (request: unknown, options?: CallOptions) => AsyncIterable<unknown>;

/**
 * Connect's own streams go on, unread, after a `break`, and keep a Node program from
 * ending.
 */
function endedWhenLeft(call: Streaming): Streaming {
  return (request, options = {}) => {
    const left = new AbortController();
    const signal = options.signal === undefined ? left.signal : AbortSignal.any([options.signal, left.signal]);
    const messages = call(request, { ...options, signal })[Symbol.asyncIterator]();
    return (async function* () {
      try {
        yield* { [Symbol.asyncIterator]: () => messages };
      } finally {
        left.abort();
        // Reads the abort, upon which Connect drops the timer of a deadline.
        await messages.next().catch(() => undefined);
      }
    })();
  };
}

/** Where the daemon is; without Node's types, which a browser does not have. */
export function serverFromEnvironment(): string {
  const { process } = globalThis as { process?: { env?: Record<string, string | undefined> } };
  return process?.env?.["LAMELLA_SERVER"] || DEFAULT_SERVER;
}

/** The address as a URL, without a slash at its end. */
export function baseUrl(server: string): string {
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
