/* The words, how to read an answer, keys, safety, and where the numbers come from. */
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { get, Refused, Unreachable } from "../api/client";
import { StandingBadge, type StandingWord } from "../parts/standing";
import { address } from "../store/place";
import type { About } from "../store/workspace";
import { t, type TextKey } from "../text/text";

const standings: StandingWord[] = ["rigid", "wetted", "afloat", "unheld"];
const words = ["ceiling", "route", "recipe", "account", "margin", "solidus", "load"] as const;
const reading = ["standing", "because", "bands", "purpose", "change"] as const;
const keys: [string, TextKey][] = [
  ["Tab", "help.key.tab"],
  ["Ctrl+Z", "help.key.undo"],
  ["Ctrl+Shift+Z", "help.key.redo"],
  ["Ctrl+S", "help.key.save"],
  ["↑ ↓ Enter Esc", "help.key.lists"],
  ["← → Home End PgUp PgDn", "help.key.figure"],
];
const grades = ["cold", "warm", "predicted", "ideal"] as const;

export default function HelpPage() {
  const about = useSignal<About | null>(null);
  useEffect(() => {
    document.title = `${t("nav.help")} · dryfront`;
    get("about").then(
      (answer) => (about.value = answer.body as About),
      (problem: unknown) => {
        if (!(problem instanceof Refused || problem instanceof Unreachable)) throw problem;
      },
    );
  }, []);
  return (
    <div class="stack help">
      <h1>{t("help.title")}</h1>
      <p class="quiet">{t("help.what")}</p>
      <div class="columns">
        <section class="sheet stack" aria-labelledby="help-standings">
          <h2 id="help-standings">{t("help.standings")}</h2>
          <dl class="terms wide">
            {standings.map((one) => (
              <div key={one}>
                <dt><StandingBadge standing={one} /></dt>
                <dd>{t(`standing.${one}.meaning` as TextKey)}. {t(`help.${one}` as TextKey)}</dd>
              </div>
            ))}
          </dl>
        </section>
        <section class="sheet stack" aria-labelledby="help-words">
          <h2 id="help-words">{t("help.words")}</h2>
          <dl class="terms">
            {words.map((one) => <div key={one}><dt>{t(`help.word.${one}`)}</dt><dd>{t(`help.word.${one}.is`)}</dd></div>)}
          </dl>
        </section>
        <section class="sheet stack" aria-labelledby="help-read">
          <h2 id="help-read">{t("help.read")}</h2>
          <ol class="numbered">{reading.map((one) => <li key={one}>{t(`help.read.${one}`)}</li>)}</ol>
          <p class="small quiet">{t("help.units")}</p>
        </section>
        <section class="sheet stack" aria-labelledby="help-trust">
          <h2 id="help-trust">{t("help.trust")}</h2>
          <p>{t("help.trust.is")}</p>
          <dl class="terms">
            {grades.map((one) => <div key={one}><dt>{t(`help.grade.${one}`)}</dt><dd>{t(`help.grade.${one}.is`)}</dd></div>)}
          </dl>
          <p class="small quiet">{t("help.trust.memory")}</p>
        </section>
        <section class="caution" aria-labelledby="help-safety">
          <h2 id="help-safety">{t("help.safety")}</h2>
          <ul class="stack">
            <li>{t("caution.always")}</li>
            <li>{t("caution.nitrogen")}</li>
            <li>{t("caution.dry_ice")}</li>
            <li>{t("help.safety.acids")}</li>
            <li>{t("help.safety.trap")}</li>
          </ul>
        </section>
        <section class="sheet stack" aria-labelledby="help-keys">
          <h2 id="help-keys">{t("help.keys")}</h2>
          <dl class="terms">
            {keys.map(([key, text]) => <div key={key}><dt><kbd>{key}</kbd></dt><dd>{t(text)}</dd></div>)}
          </dl>
          <p class="small quiet">{t("help.kept")}</p>
        </section>
      </div>
      <p class="small quiet">
        {about.value !== null && <>{t("help.version", { version: about.value.version, data: about.value.data })} · </>}
        <a href="/api/v1/openapi.json">{t("help.api")}</a> · <a href={address(["library"])}>{t("help.library")}</a> · {t("help.command")}
      </p>
    </div>
  );
}
