/** What opens on a tap, or by itself when something in it is wrong; it never closes under a person's fingers. */
import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";

export function Fold(props: {
  /** Something in it must be seen. */
  open: boolean;
  summary: ComponentChildren;
  testid: string;
  class?: string;
  children: ComponentChildren;
}) {
  const { open, summary, testid, children } = props;
  const place = useRef<HTMLDetailsElement>(null);
  useEffect(() => {
    if (open && place.current) place.current.open = true;
  }, [open]);
  return (
    <details ref={place} class={props.class}>
      <summary data-testid={testid}>{summary}</summary>
      {children}
    </details>
  );
}
