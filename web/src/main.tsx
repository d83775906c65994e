import { render } from "preact";
import { App } from "./app";

render(<App />, document.getElementById("app")!);

/* The pages themselves stay at hand when the server is stopped; answers never come from there. */
if ("serviceWorker" in navigator && import.meta.env.PROD) {
  void navigator.serviceWorker.register("/service-worker.js").catch(() => undefined);
}
