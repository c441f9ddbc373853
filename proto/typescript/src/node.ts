/**
 * As index.ts, but for {@link connect}: gRPC over HTTP/2, for programs in Node. It has
 * what `fetch` cannot do: methods that stream to the daemon.
 */

import { createGrpcTransport } from "@connectrpc/connect-node";

import { baseUrl, clientsOver, type ConnectOptions, type Lamella, serverFromEnvironment } from "./connect.js";

export * from "./index.js";

/**
 * Gives a client of each service. Nothing is sent before the first call.
 *
 * @param server `http://HOST:PORT`, `https://HOST:PORT` or `HOST:PORT`. Unset: the
 *   environment's `LAMELLA_SERVER`, else `127.0.0.1:7575`.
 * @throws TypeError when `server` is of no such form.
 */
export function connect(
  server: string = serverFromEnvironment(),
  options: Omit<ConnectOptions, "fetch"> = {},
): Lamella {
  const { interceptors = [], defaultTimeoutMs } = options;
  return clientsOver(createGrpcTransport({ baseUrl: baseUrl(server), interceptors }), defaultTimeoutMs);
}
