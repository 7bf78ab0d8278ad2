/** Which methods each address knows, to tell a wrong method (405) from a wrong address (404). */

export interface RouteTable {
  add(url: string, method: string | readonly string[]): void;
  /** Methods of the first address that a path fits, sorted; empty when it fits none. */
  methodsOf(path: string): string[];
}

/** Makes an empty table. Addresses may have `:name` parameters; those with `*` are not kept. */
export function createRouteTable(): RouteTable {
  const routes = new Map<string, { pattern: RegExp; methods: Set<string> }>();
  return {
    add(url, method) {
      if (url.includes('*')) return;
      const route = routes.get(url) ?? { pattern: patternOf(url), methods: new Set<string>() };
      for (const name of typeof method === 'string' ? [method] : method) route.methods.add(name);
      routes.set(url, route);
    },
    methodsOf(path) {
      for (const { pattern, methods } of routes.values()) if (pattern.test(path)) return [...methods].sort();
      return [];
    },
  };
}

function patternOf(url: string): RegExp {
  const pieces = url
    .split('/')
    .map((piece) => (piece.startsWith(':') ? '[^/]+' : piece.replace(/[.+?^$()[\]{}|\\]/g, '\\$&')));
  return new RegExp(`^${pieces.join('/')}$`);
}
