// SPDX-License-Identifier: Apache-2.0
// Starts the pages.                                                                                         Layer: web
import { mount } from 'svelte';
import App from './App.svelte';
import './sheet.css';

mount(App, { target: document.getElementById('app') as HTMLElement });
