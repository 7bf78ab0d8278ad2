/** A secret that is shown this once. */
export function SecretNote({ secret }: { readonly secret: string }) {
  return (
    <div class="secret" role="status">
      <p>
        <strong>The secret that signs from now on.</strong> It is shown this once; put it where the receiver checks
        signatures.
      </p>
      <code>{secret}</code>
    </div>
  );
}
