// The rule itself; see ../tiered-pricing/README.md. What is not covered and what is
// missing is gathered over the whole job before it is refused.
import { Draft, THOUSANDTHS, divideRounded, refusal } from './draft.js';

const INT64_MAX = 2n ** 63n - 1n;

// The quote for a job.
export function apply(request, prices) {
  return new Work(request, prices).quote();
}

class Work {
  // Sets: the same fault may be met on the next panel.
  #bad = new Set();
  #notCovered = new Set();
  #missing = new Set();

  constructor(request, prices) {
    this.request = request;
    this.prices = prices;
    this.draft = new Draft(request.money);
  }

  quote() {
    for (const service of this.request.job.services) this.service(service);
    for (const measure of this.request.measures) this.measure(measure);
    this.discount();
    for (const [kind, faults] of [
      ['bad-setting', this.#bad],
      ['not-covered', this.#notCovered],
      ['missing', this.#missing],
    ]) {
      if (faults.size > 0) throw refusal(kind, [...faults].join('; '));
    }
    return this.draft.finish();
  }

  service(service) {
    const { code } = service;
    const { bySize, each, contradiction } = this.prices.ofService(code);
    if (contradiction) {
      this.#bad.add(`service \`${code}\` ${contradiction}`);
    } else if (bySize) {
      for (const panel of this.panelsOf(service)) this.panel(service, panel, bySize);
    } else if (each !== undefined) {
      this.draft.line({
        code,
        description: textOr(service.description, code),
        quantity: 1_000n,
        unit: 'pc',
        unitPrice: each,
        taxClass: this.prices.workClass,
        reason: 'a price of its own',
      });
    } else if (
      this.request.measures.some(
        ({ kind, item, quantity }) => kind === 'labour' && item === code && quantity > 0n,
      )
    ) {
      this.draft.notes.push(`service \`${code}\` is priced by its hours`);
    } else {
      this.#missing.add(`labour hours of service \`${code}\``);
    }
  }

  panelsOf(service) {
    const onCar = this.request.job.panels;
    if (service.panels.length === 0) {
      if (onCar.length === 0) this.#missing.add(`panels for service \`${service.code}\``);
      return onCar;
    }
    return service.panels.flatMap((id) => {
      const panel = onCar.find((panel) => panel.id === id);
      if (panel) return [panel];
      this.#missing.add(`panel \`${id}\` of service \`${service.code}\` on the vehicle`);
      return [];
    });
  }

  panel(service, panel, bySize) {
    const { id, condition } = panel;
    const perMille = this.prices.find(`${condition}-per-mille`, service.code);
    if (perMille === undefined && condition === 'unknown') {
      this.#missing.add(`condition of panel \`${id}\``);
    } else if (perMille === undefined) {
      this.#notCovered.add(`panel \`${id}\` in ${condition} condition: there is no multiplier`);
    }
    const areaCm2 = BigInt(panel.areaCm2 ?? 0);
    if (areaCm2 === 0n) this.#missing.add(`area of panel \`${id}\``);
    if (perMille === undefined || areaCm2 === 0n) return;
    const [small, medium] = this.prices.limitsCm2;
    const size = areaCm2 <= small ? 0 : areaCm2 <= medium ? 1 : 2;
    const perM2 = bySize[size];
    this.draft.line({
      code: service.code,
      description: `${textOr(service.description, service.code)}, ${textOr(panel.name, id)}`,
      // Ten square centimetres are a thousandth of a square metre.
      quantity: divideRounded(areaCm2, 10n, 'half-up'),
      unit: 'm2',
      unitPrice: divideRounded(perM2 * perMille, THOUSANDTHS, this.request.money.rounding),
      taxClass: this.prices.workClass,
      reason:
        `${['small', 'medium', 'large'][size]} panel, ${areaCm2} cm2, ${condition}: ` +
        `${perM2} for 1 m2 at ${perMille} per mille`,
    });
  }

  measure(measure) {
    const { kind, item, quantity, unit } = measure;
    const { workClass, materialClass } = this.prices;
    if (quantity < 0n) {
      this.#notCovered.add(`${kind} \`${item}\`: its quantity is below zero`);
    } else if (kind === 'film' && unit === 'm') {
      this.byQuantity(measure, 'Film', quantity, 'm', 'film-per-m', materialClass);
    } else if (kind === 'chemical' && unit === 'ml') {
      const litres = divideRounded(quantity, THOUSANDTHS, 'half-up');
      this.byQuantity(measure, 'Liquid', litres, 'l', 'chemical-per-l', materialClass);
    } else if (kind === 'labour' && unit === 'h') {
      if (Object.keys(this.prices.ofService(item)).length === 0) {
        this.byQuantity(measure, 'Labour', quantity, 'h', 'labour-per-h', workClass);
      } else {
        this.draft.notes.push(
          `labour \`${item}\` is in the price of the service: ${quantity} thousandths of an hour`,
        );
      }
    } else {
      this.#notCovered.add(`${kind} \`${item}\`: there is no price by the \`${unit}\``);
    }
  }

  byQuantity(measure, what, quantity, unit, name, taxClass) {
    const unitPrice = this.prices.find(name, measure.item);
    if (unitPrice === undefined) {
      this.#notCovered.add(`${measure.kind} \`${measure.item}\`: \`${name}\` is not set`);
    } else if (quantity > 0n) {
      this.draft.line({
        code: measure.kind,
        description: `${what}, ${textOr(measure.item, 'any')}`,
        quantity,
        unit,
        unitPrice,
        taxClass,
        reason: `${unitPrice} for 1 ${unit}`,
      });
    }
  }

  discount() {
    const perMille = this.prices.numbers.get('discount-per-mille');
    const nets = new Map();
    for (const { taxClass, amount } of this.draft.lines) {
      const counted = amount > INT64_MAX ? INT64_MAX : amount;
      nets.set(taxClass, (nets.get(taxClass) ?? 0n) + counted);
    }
    for (const [taxClass, net] of nets) {
      const off = divideRounded(net * perMille, THOUSANDTHS, this.request.money.rounding);
      // A net that does not fit is refused when the draft is added up.
      if (off > 0n && net <= INT64_MAX) {
        this.draft.line({
          code: 'discount',
          description: 'Discount',
          quantity: 1_000n,
          unit: 'pc',
          unitPrice: -off,
          taxClass,
          reason: `${perMille} per mille of ${net}`,
        });
      }
    }
  }
}

function textOr(text, instead) {
  return text.trim() === '' ? instead : text;
}
