import { preact } from '@preact/preset-vite';
import { defineConfig } from 'vite';

/** Where `npm run dev` finds the API. */
const apiOrigin = process.env.WARMBRICK_API ?? 'http://127.0.0.1:8080';

export default defineConfig({
  plugins: [preact()],
  build: {
    outDir: 'dist/site',
    emptyOutDir: true,
    // The pages run under `default-src 'self'`, which refuses data: addresses.
    assetsInlineLimit: 0,
    sourcemap: true,
  },
  server: { proxy: { '/v1': { target: apiOrigin, changeOrigin: true } } },
});
