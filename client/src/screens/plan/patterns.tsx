/** The patterns of a timeline: what is drawn with them is told apart without colour, in the sun and on paper. */
export function Patterns() {
  return (
    <svg class="plan-defs" width="0" height="0" aria-hidden="true" focusable="false">
      <defs>
        <pattern id="plan-closed" width="8" height="8" patternUnits="userSpaceOnUse">
          <rect class="plan-wash" width="8" height="8" />
          <circle class="plan-dot" cx="2" cy="2" r="1" />
          <circle class="plan-dot" cx="6" cy="6" r="1" />
        </pattern>
        <pattern
          id="plan-cure"
          width="9"
          height="9"
          patternUnits="userSpaceOnUse"
          patternTransform="rotate(45)"
        >
          <rect class="plan-paper-fill" width="9" height="9" />
          <rect class="plan-cure-ink" width="3" height="9" />
        </pattern>
        <pattern id="plan-open" width="7" height="12" patternUnits="userSpaceOnUse">
          <rect class="plan-paper-fill" width="7" height="12" />
          <rect class="plan-open-ink" width="3" height="12" />
        </pattern>
      </defs>
    </svg>
  );
}
