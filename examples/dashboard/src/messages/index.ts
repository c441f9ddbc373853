/** The language in use. */
import { en, type Messages } from "./en/index.js";

/** Every word that the page says. */
export const t: Messages = en;
