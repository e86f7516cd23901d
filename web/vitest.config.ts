// SPDX-License-Identifier: Apache-2.0
// Tests of the pure functions.                                                                                   Layer: web, tests
import { defineConfig } from 'vitest/config';

export default defineConfig({ test: { include: ['tests/unit/**/*.test.ts'], environment: 'node', testTimeout: 60_000 } });
