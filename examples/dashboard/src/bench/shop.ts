/** What the shop's product lists hold, asked for once; empty where no plugin lists anything. */
import { signal } from "@preact/signals";

import { lamella } from "../api.js";
import type { ShopList } from "./read.js";

/** An id with the name that people know. */
export interface ShopItem {
  readonly id: string;
  readonly name: string;
}

/** The lists, null until they are known. */
export const shop = signal<Readonly<Record<ShopList, readonly ShopItem[]>> | null>(null);

/** Fills them. Without an answer the forms do without. */
export async function loadShop(): Promise<void> {
  if (shop.value !== null) return;
  try {
    const { products } = await lamella.plugin.listShopProducts({});
    const item = (id: string, name: string | undefined): ShopItem => ({ id, name: name || id });
    shop.value = {
      chemicals: (products?.chemicals ?? []).map(({ productId, displayName }) => item(productId, displayName)),
      films: (products?.films ?? []).map(({ productId, displayName }) => item(productId, displayName)),
      coatings: (products?.coatings ?? []).map(({ productId, coating }) => item(productId, coating?.product)),
    };
  } catch {
    // An older daemon has no lists; one that is away is told of at the head of the page.
  }
}
