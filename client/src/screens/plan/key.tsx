/** What the signs of a timeline mean. */
import { say } from "../../words/index.ts";

const WIDTH = 52;

export function Key() {
  return (
    <ul class="plan-key" data-testid="plan-key">
      <li>
        <svg width={WIDTH} height="30" aria-hidden="true">
          <rect class="plan-box" x="2" y="2" width="46" height="26" />
          <rect class="plan-edge" x="2" y="2" width="6" height="26" />
        </svg>
        {say("plan.key_work")}
      </li>
      <li>
        <svg width={WIDTH} height="30" aria-hidden="true">
          <rect class="plan-cure" x="2" y="4" width="46" height="22" />
        </svg>
        {say("plan.key_cure")}
      </li>
      <li>
        <svg width={WIDTH} height="30" aria-hidden="true">
          <rect class="plan-window" x="2" y="11" width="46" height="8" />
          <path class="plan-window-ends" d="M7 10H3v10h4M43 10h4v10h-4" />
        </svg>
        {say("plan.key_window")}
      </li>
      <li>
        <svg width={WIDTH} height="30" aria-hidden="true">
          <path class="plan-missed" d="M13 6h26l-13 18z" />
        </svg>
        {say("plan.key_missed")}
      </li>
      <li>
        <svg width={WIDTH} height="30" aria-hidden="true">
          <rect class="plan-closed" x="2" y="2" width="46" height="26" />
        </svg>
        {say("plan.key_closed")}
      </li>
    </ul>
  );
}
