/* A figure that the server draws, on its own white sheet: shown as a picture, saved as it is. */
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { ask, Refused, Unreachable } from "../api/client";
import { t } from "../text/text";
import { SaveMenu } from "./save_menu";

export function ServerFigure({ name, title, request }: { name: string; title: string; request: object }) {
  const svg = useSignal("");
  const problem = useSignal("");
  const url = useSignal("");
  const said = (reason: unknown) => {
    if (reason instanceof Refused) problem.value = reason.message;
    else if (!(reason instanceof Unreachable || reason instanceof DOMException)) throw reason;
    return null;
  };
  const asked = JSON.stringify(request);
  useEffect(() => {
    const abort = new AbortController();
    const wait = setTimeout(() => {
      ask<string>(`figures/${name}`, request, abort.signal).then(
        (text) => {
          svg.value = text;
          problem.value = "";
        },
        said,
      );
    }, 250);
    return () => {
      clearTimeout(wait);
      abort.abort();
    };
  }, [name, asked]);
  useEffect(() => {
    if (svg.value === "") return;
    const made = URL.createObjectURL(new Blob([svg.value], { type: "image/svg+xml" }));
    url.value = made;
    return () => URL.revokeObjectURL(made);
  }, [svg.value]);
  return (
    <figure class="figure">
      <header>
        <h2>{title}</h2>
        {svg.value !== "" && <SaveMenu file={`dryfront-${name}`} title={title} svg={() => svg.value} csv={() => ask<string>(`numbers/${name}`, request).catch(said)} />}
      </header>
      {problem.value !== "" ? <p class="note warning">{problem.value}</p> : url.value === "" ? <p class="quiet">{t("loading")}</p> : <img class="drawn" src={url.value} alt={title} />}
    </figure>
  );
}
