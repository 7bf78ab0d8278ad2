/** Who may do what: roles, in rising order, and who is asking. */

/** Each may do what those before it may. Source: design decision. */
export const roles = ['viewer', 'analyst', 'engineer', 'admin'] as const;
export type Role = (typeof roles)[number];

/** Whether a role may do what another role may. */
export function mayActAs(role: Role, leastRole: Role): boolean {
  return roles.indexOf(role) >= roles.indexOf(leastRole);
}
