"""Takes deliveries over HTTPS with a certificate of a CA made for the occasion.

usage: https_site.py CA_FILE RECEIVED_FILE

Writes the CA's certificate, prints its address, appends every body it is sent.
"""

import http.server
import ssl
import sys

import trustme


class Handler(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["content-length"]))
        with open(sys.argv[2], "ab") as received:
            received.write(body + b"\n")
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_):
        pass


def main():
    ca = trustme.CA()
    ca.cert_pem.write_to_path(sys.argv[1])
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    ca.issue_cert("localhost").configure_cert(context)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    # The handshake in the thread of its connection: a client that does not trust
    # the certificate must not end the server.
    server.socket = context.wrap_socket(
        server.socket, server_side=True, do_handshake_on_connect=False
    )
    print(f"ready address=localhost:{server.server_address[1]}", flush=True)
    server.serve_forever()


if __name__ == "__main__":
    main()
