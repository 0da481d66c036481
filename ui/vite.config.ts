import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defineConfig } from 'vitest/config'

// The server's build script says where the pages go; nothing is written into the tree then.
const out = process.env.STILLROOM_UI_OUT ?? 'dist'

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
  server: { proxy: { '/api': process.env.STILLROOM_SERVER ?? 'http://127.0.0.1:4780' } },
  test: { include: ['src/**/*.test.ts'] },
})
