/** The caution that goes with every proposed action. */
export function CautionNote() {
  return (
    <p class="caution">
      <svg class="caution-sign" viewBox="0 0 20 20" aria-hidden="true">
        <path d="M10 1.5 19 18H1z" />
        <path class="caution-bar" d="M9.1 7h1.8v6H9.1zM9.1 14.4h1.8v1.8H9.1z" />
      </svg>
      <span>
        <strong>Hot exhaust burns and can start fires.</strong> Park and secure the machine, clear what can burn, and
        follow the manufacturer's manual and the local rules first. Never defeat an emissions control.
      </span>
    </p>
  );
}
