/** Dates and spans in the browser's own locale and zone. */
import { type Timestamp, timestampDate } from "@lamella/client";

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

/** A timestamp as milliseconds since the epoch. */
export function millis(time: Timestamp): number {
  return timestampDate(time).getTime();
}

const clockFormat = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit" });
const secondsFormat = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit", second: "2-digit" });
const weekdayFormat = new Intl.DateTimeFormat(undefined, { weekday: "short", hour: "2-digit", minute: "2-digit" });
const dateFormat = new Intl.DateTimeFormat(undefined, { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
const fullFormat = new Intl.DateTimeFormat(undefined, { dateStyle: "medium", timeStyle: "short" });
const todayFormat = new Intl.DateTimeFormat(undefined, { weekday: "long", day: "numeric", month: "long" });

/** Hours and minutes. */
export const clock = (at: number): string => clockFormat.format(at);
/** Hours, minutes and seconds. */
export const clockSeconds = (at: number): string => secondsFormat.format(at);
/** Date and time in full. */
export const full = (at: number): string => fullFormat.format(at);
/** The day, in words. */
export const day = (at: number): string => todayFormat.format(at);

/** A moment as near to `now` as it needs to be told: the time, the weekday, or the date. */
export function moment(at: number, now: number): string {
  if (new Date(at).toDateString() === new Date(now).toDateString()) return clockFormat.format(at);
  return Math.abs(at - now) < 6 * DAY ? weekdayFormat.format(at) : dateFormat.format(at);
}

const unitFormat = (unit: "minute" | "hour" | "day") =>
  new Intl.NumberFormat(undefined, { style: "unit", unit, unitDisplay: unit === "day" ? "long" : "narrow" });
const minutes = unitFormat("minute");
const hours = unitFormat("hour");
const days = unitFormat("day");

/** A span in its two largest units, without a sign: `2h 10m`. Under a minute counts as one. */
export function span(ms: number): string {
  const size = Math.abs(ms);
  if (size < HOUR) return minutes.format(Math.max(1, Math.round(size / MINUTE)));
  if (size < 2 * DAY) {
    const whole = Math.floor(size / HOUR);
    const rest = Math.floor((size % HOUR) / MINUTE);
    return rest === 0 || whole >= 10 ? hours.format(whole) : `${hours.format(whole)} ${minutes.format(rest)}`;
  }
  return days.format(Math.round(size / DAY));
}

/** Sentences of the daemon name moments in RFC 3339; here they become local. */
export function localMoments(text: string, now: number): string {
  return text.replace(/\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)/g, (found) =>
    moment(Date.parse(found), now),
  );
}

/** How near a moment is. */
export type Nearness = "late" | "soon" | "later";

/** Late once it has passed; soon within two hours. */
export function nearness(at: number, now: number): Nearness {
  if (at <= now) return "late";
  return at - now <= 2 * HOUR ? "soon" : "later";
}
