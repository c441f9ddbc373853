/** What is around every page: name, pages, clock, and whether it is live. */
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";

import { link, live, now, tryNow } from "../live/watch.js";
import { t } from "../messages/index.js";
import { place } from "../router.js";
import { clock, clockSeconds, day } from "../times.js";

/** The page between its head and its end. */
export function Shell({ title, wall = false, children }: { title: string; wall?: boolean; children: ComponentChildren }) {
  useEffect(() => {
    document.title = t.app.title(title);
  }, [title]);
  return (
    <div class={wall ? "shell wall" : "shell"}>
      <a class="skip" href="#main">
        {t.app.skip}
      </a>
      <header class="head">
        <a class="name" href="/">
          <svg class="mark" viewBox="0 0 24 24" aria-hidden="true">
            <path class="mark-clear" d="M2 6h20" />
            <path class="mark-base" d="M2 12h20" />
            <path class="mark-metal" d="M2 18h20" />
          </svg>
          {t.app.name}
        </a>
        <nav aria-label={t.app.pages}>
          <PageLink href="/" name={t.app.board} here={!place.value.path.startsWith("/bench")} />
          <PageLink href="/bench" name={t.app.bench} here={place.value.path.startsWith("/bench")} />
        </nav>
        <LinkPill />
        <p class="clock">
          <time>{clock(now.value)}</time> <span class="day">{day(now.value)}</span>
        </p>
      </header>
      <StaleBanner />
      <main id="main" tabIndex={-1}>
        {children}
      </main>
    </div>
  );
}

function PageLink({ href, name, here }: { href: string; name: string; here: boolean }) {
  return (
    <a href={href} aria-current={here ? "page" : undefined}>
      {name}
    </a>
  );
}

function LinkPill() {
  const { kind } = link.value;
  const text = kind === "live" ? t.link.live : kind === "loading" ? t.link.loading : staleSince();
  return (
    <p class={`pill ${kind}`} role="status" data-link={kind}>
      {text}
    </p>
  );
}

function staleSince(): string {
  const state = link.value;
  return state.kind === "stale" ? t.link.stale(clockSeconds(state.since)) : "";
}

/** Says that the page is behind, since when, and what happens next. */
function StaleBanner() {
  const state = link.value;
  if (state.kind !== "stale") return null;
  const seconds = Math.ceil((state.retryAt - now.value) / 1000);
  return (
    <div class="stale-banner">
      <p>
        <strong>{live.value === null ? t.link.never : staleSince()}</strong>{" "}
        {live.value === null ? "" : t.link.stalePlain}
      </p>
      <p class="retry">
        <span>{t.link.retryIn(seconds)}</span>
        <button type="button" onClick={tryNow}>
          {t.link.tryNow}
        </button>
      </p>
    </div>
  );
}
