// The shop's settings over the rule's own figures; see ../tiered-pricing/README.md.
import { refusal } from './draft.js';

const PRICE = 1_000_000_000n;
const [NEVER, PERHAPS, ALWAYS] = [0, 1, 2];

// Name of a number: what may follow it, and its range.
const NAMES = new Map([
  ['small-up-to-cm2', [NEVER, 1n, PRICE]],
  ['medium-up-to-cm2', [NEVER, 1n, PRICE]],
  ['discount-per-mille', [NEVER, 0n, 1_000n]],
  ['small-per-m2', [ALWAYS, 0n, PRICE]],
  ['medium-per-m2', [ALWAYS, 0n, PRICE]],
  ['large-per-m2', [ALWAYS, 0n, PRICE]],
  ['each', [ALWAYS, 0n, PRICE]],
  ['good-per-mille', [PERHAPS, 0n, 10_000n]],
  ['light-per-mille', [PERHAPS, 0n, 10_000n]],
  ['moderate-per-mille', [PERHAPS, 0n, 10_000n]],
  ['severe-per-mille', [PERHAPS, 0n, 10_000n]],
  ['unknown-per-mille', [PERHAPS, 0n, 10_000n]],
  ['film-per-m', [PERHAPS, 0n, PRICE]],
  ['chemical-per-l', [PERHAPS, 0n, PRICE]],
  ['labour-per-h', [PERHAPS, 0n, PRICE]],
]);

// Invented figures, in minor units.
const DEFAULTS = [
  ['small-up-to-cm2', 5_000n],
  ['medium-up-to-cm2', 12_000n],
  ['discount-per-mille', 0n],
  ['small-per-m2.correct', 9_000n],
  ['medium-per-m2.correct', 7_500n],
  ['large-per-m2.correct', 6_000n],
  ['small-per-m2.coat', 6_000n],
  ['medium-per-m2.coat', 5_000n],
  ['large-per-m2.coat', 4_000n],
  ['small-per-m2.film', 22_000n],
  ['medium-per-m2.film', 18_000n],
  ['large-per-m2.film', 15_000n],
  ['each.wash', 4_500n],
  ['good-per-mille', 800n],
  ['light-per-mille', 1_000n],
  ['moderate-per-mille', 1_300n],
  ['severe-per-mille', 1_700n],
  ['film-per-m', 5_500n],
  ['chemical-per-l', 4_000n],
  ['labour-per-h', 6_500n],
  // How worn the paint is makes no difference to these two.
  ...['good', 'light', 'moderate', 'severe', 'unknown'].flatMap((condition) => [
    [`${condition}-per-mille.coat`, 1_000n],
    [`${condition}-per-mille.film`, 1_000n],
  ]),
];

export class Prices {
  numbers = new Map(DEFAULTS);
  #classes;

  constructor(settings, money) {
    const names = money.taxClasses.map(({ name }) => name);
    if (names.length === 0) throw refusal('missing', "a tax class in the shop's rules of money");
    this.#classes = new Map([
      ['work-tax-class', names[0]],
      ['material-tax-class', names[0]],
    ]);
    const faults = [];
    const seen = new Set();
    for (const { key, value } of settings) {
      if (seen.has(key)) {
        faults.push(`\`${key}\` is given twice`);
      } else if (!this.#classes.has(key)) {
        const fault = this.#setNumber(key, value);
        if (fault) faults.push(fault);
      } else if (names.includes(value)) {
        this.#classes.set(key, value);
      } else {
        faults.push(`\`${key}\` is \`${value}\`, which is not among the shop's tax classes`);
      }
      seen.add(key);
    }
    const [small, medium] = this.limitsCm2;
    if (small >= medium) {
      faults.push(`\`small-up-to-cm2\` ${small} is not below \`medium-up-to-cm2\` ${medium}`);
    }
    if (faults.length > 0) throw refusal('bad-setting', faults.join('; '));
  }

  // What is wrong with it, if anything.
  #setNumber(key, value) {
    const dot = key.indexOf('.');
    const what = dot < 0 ? undefined : key.slice(dot + 1);
    const [suffix, least, most] = NAMES.get(dot < 0 ? key : key.slice(0, dot)) ?? [];
    const known =
      (suffix === NEVER && what === undefined) ||
      (suffix === PERHAPS && what !== '') ||
      (suffix === ALWAYS && what !== undefined && what !== '');
    if (!known) return `\`${key}\` is not known`;
    if (value === '' && suffix !== NEVER) {
      this.numbers.delete(key);
      return undefined;
    }
    const number = /^[0-9]{1,10}$/.test(value) ? BigInt(value) : -1n;
    if (number < least || number > most) {
      return `\`${key}\` is \`${value}\`, not a whole number from ${least} to ${most}`;
    }
    this.numbers.set(key, number);
    return undefined;
  }

  get workClass() {
    return this.#classes.get('work-tax-class');
  }

  get materialClass() {
    return this.#classes.get('material-tax-class');
  }

  // Largest area of a small and of a medium panel.
  get limitsCm2() {
    return [this.numbers.get('small-up-to-cm2'), this.numbers.get('medium-up-to-cm2')];
  }

  // The figure for this one thing, else the general one, else undefined.
  find(name, what) {
    return this.own(name, what) ?? this.numbers.get(name);
  }

  // The figure for this one thing, or undefined.
  own(name, what) {
    return this.numbers.get(`${name}.${what}`);
  }

  // Of a service: { bySize } or { each } or { contradiction } or, priced by its hours, {}.
  ofService(code) {
    const bySize = ['small', 'medium', 'large'].map((size) => this.own(`${size}-per-m2`, code));
    const each = this.own('each', code);
    const set = bySize.filter((price) => price !== undefined).length;
    if (set > 0 && each !== undefined) {
      return { contradiction: 'has a price each and a price by size' };
    }
    if (set === 1 || set === 2) return { contradiction: 'has prices for some sizes only' };
    if (set === 3) return { bySize };
    return each === undefined ? {} : { each };
  }
}
