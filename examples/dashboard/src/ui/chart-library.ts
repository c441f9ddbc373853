/** The chart library, with only those of its parts that are used. */
import {
  BarController,
  BarElement,
  CategoryScale,
  Chart,
  type ChartConfiguration,
  Legend,
  LinearScale,
  LineController,
  LineElement,
  PointElement,
  Tooltip,
} from "chart.js";
import annotation from "chartjs-plugin-annotation";

Chart.register(
  annotation,
  BarController,
  BarElement,
  CategoryScale,
  Legend,
  LinearScale,
  LineController,
  LineElement,
  PointElement,
  Tooltip,
);

/** Draws without moving anything: a wall screen is looked at, not played with. */
export function makeChart(canvas: HTMLCanvasElement, config: ChartConfiguration): Chart {
  const style = getComputedStyle(canvas);
  Chart.defaults.font.family = style.fontFamily;
  Chart.defaults.font.size = Math.max(12, Number.parseFloat(style.fontSize) * 0.8);
  Chart.defaults.color = style.getPropertyValue("--muted").trim();
  Chart.defaults.borderColor = style.getPropertyValue("--line").trim();
  Chart.defaults.animation = false;
  Chart.defaults.maintainAspectRatio = false;
  return new Chart(canvas, config);
}
