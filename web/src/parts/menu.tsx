/* A button that opens a short list of actions: Escape and a click elsewhere close it, the arrow keys go through it. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useLayoutEffect, useRef } from "preact/hooks";

export function Menu({ label, children, name }: { label: ComponentChildren; children: ComponentChildren; name?: string }) {
  const open = useSignal(false);
  const box = useRef<HTMLDivElement>(null);
  const close = () => (open.value = false);
  useLayoutEffect(() => {
    if (!open.value) return;
    box.current?.querySelector<HTMLElement>('[role^="menuitem"]')?.focus();
    const outside = (event: Event) => {
      if (!box.current?.contains(event.target as Node)) close();
    };
    document.addEventListener("pointerdown", outside);
    return () => document.removeEventListener("pointerdown", outside);
  }, [open.value]);
  const onKey = (event: KeyboardEvent) => {
    if (!open.value) return;
    const items = [...box.current!.querySelectorAll<HTMLElement>('[role^="menuitem"]:not(:disabled)')];
    const here = items.indexOf(document.activeElement as HTMLElement);
    if (event.key === "Escape") {
      close();
      box.current!.querySelector("button")!.focus();
    } else if (event.key === "ArrowDown") items[(here + 1) % items.length]?.focus();
    else if (event.key === "ArrowUp") items[(here <= 0 ? items.length : here) - 1]?.focus();
    else if (event.key === "Tab") {
      close();
      return;
    } else return;
    event.preventDefault();
    event.stopPropagation();
  };
  return (
    <div class="menu no-print" ref={box} onKeyDown={onKey}>
      <button class="plain" aria-haspopup="menu" aria-expanded={open.value} aria-label={name} onClick={() => (open.value = !open.value)}>
        {label} <span aria-hidden="true">▾</span>
      </button>
      {open.value && (
        <div role="menu" onClick={close}>
          {children}
        </div>
      )}
    </div>
  );
}

/** Where links in a row do not fit, the present one is scrolled into sight. */
export function showCurrent(nav: HTMLElement | null): void {
  const current = nav?.querySelector<HTMLElement>("[aria-current]");
  if (nav && current) nav.scrollLeft = current.offsetLeft - nav.offsetLeft - (nav.clientWidth - current.offsetWidth) / 2;
}
