import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defineConfig } from 'vitest/config'

// The server's build script says where the pages go; nothing is written into the tree then.
const out = process.env.STILLROOM_UI_OUT ?? 'dist'

const program = process.env.STILLROOM_SERVER ?? 'http://127.0.0.1:4780'

export default defineConfig({
  plugins: [svelte()],
  build: {
    outDir: out,
    emptyOutDir: true,
    // The content-security policy takes fonts and pictures from the server's own files alone.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: 'es2023',
  },
  // While working on the page: the program answers, vite shows. The program takes requests of its own
  // page alone, so these are sent in its name.
  server: {
    proxy: { '/api': { target: program, changeOrigin: true, headers: { origin: program, 'sec-fetch-site': 'same-origin' } } },
  },
  test: { include: ['src/**/*.test.ts'] },
})
