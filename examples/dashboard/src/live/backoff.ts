/** How long to wait before trying again. */

/** The first wait, milliseconds. */
const FIRST_MS = 250;
/** The longest wait, milliseconds. */
const LONGEST_MS = 8_000;

/**
 * Twice as long each time, up to eight seconds, and up to a quarter less by
 * chance, so that many screens do not come back at one moment.
 */
export function backoffMs(attempt: number, chance: number = Math.random()): number {
  const whole = Math.min(LONGEST_MS, FIRST_MS * 2 ** Math.min(attempt, 10));
  return Math.round(whole * (1 - chance / 4));
}
