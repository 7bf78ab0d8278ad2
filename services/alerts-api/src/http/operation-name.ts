/** Names of operations, for clients that are made from the description. */

/**
 * `GET /v1/machines/{machineId}/samples` is `getMachineSamples`: the method and the pieces of the path, a piece before a
 * parameter in the singular.
 */
export function operationName(method: string, url: string): string {
  const pieces = url
    .replace(/^\/v\d+/, '')
    .split('/')
    .filter((piece) => piece !== '');
  const words = pieces.flatMap((piece, at) => {
    if (isParameter(piece)) return [];
    return [isParameter(pieces[at + 1] ?? '') ? singular(piece) : piece];
  });
  const name = words
    .flatMap((word) => word.split(/[^a-zA-Z0-9]+/))
    .map(capital)
    .join('');
  return method.toLowerCase() + name;
}

function isParameter(piece: string): boolean {
  return piece.startsWith(':') || piece.startsWith('{');
}

function singular(word: string): string {
  if (word.endsWith('ies')) return `${word.slice(0, -3)}y`;
  return word.endsWith('s') ? word.slice(0, -1) : word;
}

function capital(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1);
}
