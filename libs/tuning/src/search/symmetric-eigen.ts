/** Eigenvectors of small symmetric matrices. */

export interface Eigen {
  readonly values: readonly number[];
  /** Column k belongs to value k: `vectors[row][k]`. */
  readonly vectors: readonly (readonly number[])[];
}

/** Sweeps at most. Source: common practice; five to ten are enough for any size met here. */
const mostSweeps = 50;

/**
 * Eigenvalues and orthonormal eigenvectors of a symmetric matrix.
 *
 * Range: sizes up to some dozens. Source: C. G. J. Jacobi's rotations, in the cyclic form of Golub and Van Loan, Matrix
 * Computations, 8.5.
 */
export function symmetricEigen(matrix: readonly (readonly number[])[]): Eigen {
  const n = matrix.length;
  const a = matrix.map((row) => [...row]);
  const v = a.map((_, i) => a.map((__, j) => (i === j ? 1 : 0)));
  for (let sweep = 0; sweep < mostSweeps && offDiagonal(a) > 1e-30; sweep++) {
    for (let p = 0; p < n - 1; p++) for (let q = p + 1; q < n; q++) rotate(a, v, { p, q });
  }
  return { values: a.map((row, i) => row[i] as number), vectors: v };
}

function offDiagonal(a: readonly (readonly number[])[]): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) for (let j = 0; j < i; j++) sum += ((a[i] as number[])[j] as number) ** 2;
  return sum;
}

function rotate(a: number[][], v: number[][], { p, q }: { readonly p: number; readonly q: number }): void {
  const rowP = a[p] as number[];
  const rowQ = a[q] as number[];
  const apq = rowP[q] as number;
  if (apq === 0) return;
  const tau = ((rowQ[q] as number) - (rowP[p] as number)) / (2 * apq);
  const t = (tau >= 0 ? 1 : -1) / (Math.abs(tau) + Math.sqrt(1 + tau * tau));
  const c = 1 / Math.sqrt(1 + t * t);
  const s = t * c;
  for (const row of [...a, ...v]) {
    const x = row[p] as number;
    const y = row[q] as number;
    row[p] = c * x - s * y;
    row[q] = s * x + c * y;
  }
  for (let k = 0; k < a.length; k++) {
    const x = rowP[k] as number;
    const y = rowQ[k] as number;
    rowP[k] = c * x - s * y;
    rowQ[k] = s * x + c * y;
  }
}
