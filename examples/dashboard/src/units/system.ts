/** Which units come first: what the address says, else what the browser's region uses. */
import { computed } from "@preact/signals";

import { go, place } from "../router.js";
import { type Kind, show, type System } from "./show.js";

/** The address names it when it is not the region's own. */
const PARAMETER = "units";

function regional(): System {
  return new Intl.Locale(navigator.language).maximize().region === "US" ? "us" : "metric";
}

/** The units in use. */
export const system = computed<System>(() => {
  const asked = place.value.query.get(PARAMETER);
  return asked === "us" || asked === "metric" ? asked : regional();
});

/** Changes them, in the address, and stays on the page. */
export function chooseSystem(chosen: System): void {
  const query = new URLSearchParams(place.value.query);
  query.set(PARAMETER, chosen);
  go(`${place.value.path}?${query}`, "replace");
}

/** A quantity in the units in use, in one line without the other system. */
export function short(kind: Kind, value: number): string {
  return show(kind, value, system.value).first;
}
