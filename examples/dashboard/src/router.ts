/** Addresses of the page: `/`, `/jobs/{job}` as the API names it, `/bench/{calculator}?inputs`. */
import { signal } from "@preact/signals";

/** Where the page is. */
export interface Place {
  readonly path: string;
  readonly query: URLSearchParams;
}

const here = (): Place => ({ path: location.pathname, query: new URLSearchParams(location.search) });

/** Where the page is now. */
export const place = signal<Place>(here());

/** Goes somewhere. With `replace`, the back button leads past it. */
export function go(address: string, how: "push" | "replace" = "push"): void {
  if (how === "push") history.pushState(null, "", address);
  else history.replaceState(null, "", address);
  place.value = here();
}

/** Follows links of this page without loading it anew, unless a new tab is asked for. */
export function startRouting(): void {
  window.addEventListener("popstate", () => {
    place.value = here();
  });
  document.addEventListener("click", (event) => {
    const plain = event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey;
    const anchor = event.target instanceof Element ? event.target.closest("a") : null;
    if (!plain || event.defaultPrevented || anchor === null || anchor.origin !== location.origin) return;
    // The way past the navigation is the browser's to follow.
    if (anchor.hash !== "" && anchor.pathname === location.pathname) return;
    event.preventDefault();
    go(anchor.pathname + anchor.search);
    // For those who hear the page: it has changed, begin at its top. The new one is drawn by then.
    requestAnimationFrame(() => {
      window.scrollTo(0, 0);
      document.getElementById("main")?.focus({ preventScroll: true });
    });
  });
}
