// A quote in the making: lines with quantity and unit price go in; amounts, taxes and
// totals follow from them, by the rules that the shop checks. Other plugins may take
// this file as it is. Whatever is money or a quantity is a BigInt: a Number would lose
// cents beyond 2^53.

export const THOUSANDTHS = 1_000n;
const PPM = 1_000_000n;

// A refusal, to be thrown: kind is 'not-covered', 'missing' or 'bad-setting'.
export function refusal(kind, text) {
  return Object.assign(new Error(text), { payload: { tag: kind, val: text } });
}

// value / divisor, halves away from zero or to the even number.
export function divideRounded(value, divisor, rounding) {
  const size = value < 0n ? -value : value;
  const twice = 2n * (size % divisor);
  let whole = size / divisor;
  if (twice > divisor || (twice === divisor && (rounding === 'half-up' || whole % 2n === 1n))) {
    whole += 1n;
  }
  return value < 0n ? -whole : whole;
}

export class Draft {
  lines = [];
  notes = [];

  constructor(money) {
    this.money = money;
  }

  // Adds { code, description, quantity, unit, unitPrice, taxClass, reason }: quantity in
  // thousandths, price of a unit in minor units before tax.
  line(line) {
    const amount = divideRounded(line.quantity * line.unitPrice, THOUSANDTHS, this.money.rounding);
    this.lines.push({ ...line, amount });
  }

  // The quote, or a refusal where there is nothing in it or it does not fit.
  finish() {
    if (this.lines.length === 0) throw refusal('missing', 'anything to price');
    this.lines.forEach((line, index) => fit(line.amount, `lines[${index}].amount`));
    const rates = new Map(this.money.taxClasses.map(({ name, ratePpm }) => [name, BigInt(ratePpm)]));
    const sums = new Map();
    for (const { taxClass, amount } of this.lines) {
      const sum = sums.get(taxClass) ?? { net: 0n, byLine: 0n };
      sum.net += amount;
      sum.byLine += this.tax(amount, rates.get(taxClass));
      sums.set(taxClass, sum);
    }
    const taxes = [...sums].map(([taxClass, { net, byLine }]) => ({
      taxClass,
      net: fit(net, `net of tax class \`${taxClass}\``),
      tax: fit(
        this.money.taxBasis === 'line' ? byLine : this.tax(net, rates.get(taxClass)),
        `tax of tax class \`${taxClass}\``,
      ),
    }));
    const net = taxes.reduce((sum, entry) => sum + entry.net, 0n);
    const tax = taxes.reduce((sum, entry) => sum + entry.tax, 0n);
    return {
      lines: this.lines,
      taxes,
      netTotal: payable(net, 'net_total'),
      taxTotal: fit(tax, 'tax_total'),
      grossTotal: payable(net + tax, 'gross_total'),
      notes: this.notes,
    };
  }

  tax(net, ratePpm) {
    return divideRounded(net * ratePpm, PPM, this.money.rounding);
  }
}

// Also by a cent of tax that each line rounds away and the discount does not.
function payable(amount, place) {
  if (amount < 0n) throw refusal('not-covered', `${place} ${amount} is below zero`);
  return fit(amount, place);
}

function fit(amount, place) {
  if (BigInt.asIntN(64, amount) !== amount) {
    throw refusal('not-covered', `${place} does not fit 64 bits`);
  }
  return amount;
}
