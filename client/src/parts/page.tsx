/** The head of a screen, and the two shapes that screens are made of. */
import type { ComponentChildren } from "preact";
import { useEffect, useId, useRef } from "preact/hooks";
import { say } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { back, depthHere } from "./router.ts";

/** A screen's heading takes the focus, so that a reader and the keyboard start at the top. */
export function PageHead(props: {
  title: string;
  otherwise?: string[];
  /** A long list: come back to where the person was in it. */
  long?: boolean;
  children?: ComponentChildren;
}) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    document.title = `${props.title} · ${say("app.name")}`;
  }, [props.title]);
  useEffect(() => {
    heading.current?.focus({ preventScroll: true });
    scrollTo(0, props.long ? depthHere() : 0);
  }, []);
  return (
    <div class="page-head">
      {props.otherwise && (
        <button
          type="button"
          class="button button-line back"
          data-testid="back"
          onClick={() => back(...(props.otherwise ?? []))}
        >
          <Icon name="back" />
          {say("go.back")}
        </button>
      )}
      <h1 tabIndex={-1} ref={heading}>
        {props.title}
      </h1>
      {props.children}
    </div>
  );
}

/** A section under a black slab with its name. */
export function Slab(props: {
  title: ComponentChildren;
  children: ComponentChildren;
  aside?: ComponentChildren;
  testid?: string;
}) {
  const id = useId();
  return (
    <section class="slab" aria-labelledby={id} data-testid={props.testid}>
      <div class="slab-head">
        <h2 id={id}>{props.title}</h2>
        {props.aside}
      </div>
      {props.children}
    </section>
  );
}

/** A question before something that is not easily undone. */
export function Ask(props: {
  question: ComponentChildren;
  yes: string;
  onYes: () => void;
  onNo: () => void;
  testid?: string;
}) {
  const yes = useRef<HTMLButtonElement>(null);
  useEffect(() => yes.current?.focus(), []);
  return (
    <fieldset class="ask" data-testid={props.testid}>
      <div>{props.question}</div>
      <div class="buttons">
        <button
          type="button"
          class="button"
          ref={yes}
          onClick={props.onYes}
          data-testid={props.testid && `${props.testid}-yes`}
        >
          {props.yes}
        </button>
        <button type="button" class="button" onClick={props.onNo}>
          {say("go.leave")}
        </button>
      </div>
    </fieldset>
  );
}
