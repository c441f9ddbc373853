/** The one way to the daemon: the address that this page came from. */
import { connect } from "@lamella/client";

/** A client of each service. */
export const lamella = connect(location.origin);
