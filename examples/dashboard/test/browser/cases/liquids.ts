/** Dilution and blends. */
import type { Case } from "./case.js";

export const LIQUIDS: readonly Case[] = [
  {
    id: "dilute",
    steps: [
      ["Stock in the bottle", "91%"],
      ["Wanted strength", "35%"],
      ["Wanted volume", "32floz"],
      ["Kind of product", "2-propanol"],
    ],
    command: ["dilute", "--stock", "91%", "--target", "35%", "--total", "32floz", "--substance", "isopropyl-alcohol"],
    facts: ["concentrateMl", "diluentMl", "totalMl", "flashPointC", "trueTotalMl", "concentrateG"],
  },
  {
    id: "dilute",
    steps: [
      ["Stock in the bottle", "100%"],
      ["Wanted strength", "1:100"],
      ["Wanted volume", "1l"],
      ["Lance or injector", "open"],
      ["Lance: water flow", "7.6l/min"],
      ["Lance: draw", "0.3l/min"],
    ],
    command: ["dilute", "--stock", "100%", "--target", "1:100", "--total", "1l", "--injector-water", "7.6l/min", "--injector-draw", "0.3l/min"],
    facts: ["concentrateMl", "injector.outletPercent", "injector.bottlePercent", "injector.bottleMinutes"],
  },
  {
    id: "dilute",
    steps: [
      ["Stock in the bottle", "100%"],
      ["Wanted strength", "1+9"],
      ["Wanted volume", "1l"],
      ["Stock: density, pH, ingredients", "open"],
      ["Density of the stock, g/ml", "1.2"],
      ["pH of the stock", "13"],
      ["Add ingredient", "press"],
      ["Ingredient", "alkali"],
      ["Percent by weight", "8%"],
      ["burns the skin (H314)", true],
      ["Cost and label", "open"],
      ["Paid for the stock", "24.99EUR"],
      ["Volume that was bought", "5l"],
      ["Name on the label", "Wheel cleaner"],
      ["Mixed on, YYYY-MM-DD", "2026-03-02"],
    ],
    command: [
      ...["dilute", "--stock", "100%", "--target", "1+9", "--total", "1l", "--density", "1.2", "--stock-ph", "13"],
      ...["--component", "alkali@8%:skin-corrosive1", "--price", "24.99EUR", "--price-for", "5l"],
      ...["--label", "Wheel cleaner", "--mixed-on", "2026-03-02"],
    ],
    facts: ["concentrateMl", "concentrateG"],
    shown: (told: { labelLines: string[]; hazards: { statementCode: string; rule: string }[]; pourCost: { minorUnits: string } }) => [
      ...told.labelLines,
      ...told.hazards.flatMap(({ statementCode, rule }) => [statementCode, rule]),
      `€${(Number(told.pourCost.minorUnits) / 100).toFixed(2)}`,
    ],
  },
  {
    id: "dilute",
    steps: [
      ["Or a product of the shop’s lists", "Water-based pre-wash concentrate"],
      ["Use of a listed product", "open"],
      ["Its recommended use", "hand sprayer"],
      ["Wanted volume", "1l"],
    ],
    command: ["dilute", "--product", "pre-wash", "--use", "hand sprayer", "--total", "1l"],
    facts: ["concentrateMl", "diluentMl"],
  },
  {
    id: "blend",
    steps: [
      ["Wanted strength", "30%"],
      ["Wanted in all", "500ml"],
      ["Strength", "70%"],
      ["Strength", "20%", 1],
    ],
    command: ["blend", "70%", "20%", "--target", "30%", "--total", "500ml"],
    facts: ["parts.0.volumeMl", "parts.1.volumeMl", "percent", "totalMl"],
  },
  {
    id: "blend",
    steps: [
      ["Strength", "5%"],
      ["Amount", "300g"],
      ["Strength", "10%", 1],
      ["Amount", "8oz", 1],
    ],
    command: ["blend", "300g@5%", "8oz@10%"],
    facts: ["parts.0.massG", "parts.1.massG", "percent", "totalG"],
  },
  {
    id: "blend",
    steps: [
      ["Wanted strength", "35%"],
      ["What it is", "2-propanol"],
      ["Strength", "91%"],
      ["Amount", "200ml"],
      ["Strength", "0%", 1],
    ],
    command: ["blend", "200ml@91%", "0%", "--target", "35%", "--substance", "isopropyl-alcohol"],
    facts: ["parts.1.volumeMl", "trueTotalMl", "trueStrengthPercent"],
  },
  {
    id: "blend",
    steps: [
      ["Wanted strength", "30%"],
      ["Strength", "70%"],
      ["Strength", "20%", 1],
    ],
    command: ["blend", "70%", "20%", "--target", "30%"],
    facts: ["parts.0.parts", "parts.1.parts"],
  },
];
