/** What a test of the bench types in, and which command must give the same answer. */

/** What is typed into which label; `press` presses that button, `open` unfolds that section, `true` ticks. */
export type Step = readonly [label: string, text: string | true, row?: number];

/** One question, asked twice. */
export interface Case {
  readonly id: string;
  readonly steps: readonly Step[];
  /** Of the lamella command; a member that is a file stands for one with that content. */
  readonly command: readonly (string | { readonly file: string })[];
  /** Figures whose presence is part of the test, by their path in the command's JSON. */
  readonly facts: readonly string[];
  /** What else of the command's answer must be readable on the page. */
  readonly shown?: (told: never) => readonly string[];
}

/** A number as the page writes it in its locale. */
export function written(value: number, places: number): string {
  return new Intl.NumberFormat("en-GB", { maximumFractionDigits: places }).format(value);
}
