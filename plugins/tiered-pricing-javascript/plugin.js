// The tiered price rule in JavaScript; what it does is in ../tiered-pricing/README.md.
import { Prices } from './prices.js';
import { apply } from './rule.js';

export function describe() {
  return {
    name: 'tiered-pricing-javascript',
    version: '1.0.0',
    summary:
      'Prices panels by size and condition, film by the metre, chemicals by the litre, ' +
      'labour by the hour',
  };
}

export const price = {
  quoteJob(request) {
    return apply(request, new Prices(request.settings, request.money));
  },
};
