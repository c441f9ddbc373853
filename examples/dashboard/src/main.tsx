/** Starts the page: routes, the watch, and the view that the address asks for. */
import "./styles/index.css";

import { render } from "preact";

import { Bench } from "./bench/Bench.js";
import { Board } from "./board/Board.js";
import { JobPage } from "./job/JobPage.js";
import { keepWatching } from "./live/watch.js";
import { t } from "./messages/index.js";
import { place, startRouting } from "./router.js";
import { Shell } from "./ui/Shell.js";

function Page() {
  const [first = "", second = "", third] = place.value.path.split("/").slice(1);
  if (first === "" && second === "") return <Board />;
  if (first === "jobs" && second !== "" && third === undefined) return <JobPage key={second} name={`jobs/${second}`} />;
  if (first === "bench" && third === undefined) return <Bench key={second} id={second} />;
  return (
    <Shell title={t.app.notFound}>
      <div class="plain">
        <h1>{t.app.notFound}</h1>
        <p>
          <a href="/">{t.app.toBoard}</a>
        </p>
      </div>
    </Shell>
  );
}

const root = document.getElementById("page");
if (root !== null) {
  startRouting();
  render(<Page />, root);
  void keepWatching();
}
