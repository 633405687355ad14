package main

// boards of the model harbour.
var boards = []board{
	{file: "lamp-1.csv.gz", r1: 10.03e3, r2: 46.88e3, c: 102.6e-9, supply: 5.02, end: 0.100, seed: 1, export: scope(20e-6)},
	{file: "lamp-2.csv.gz", r1: 9.96e3, r2: 47.11e3, c: 123.4e-9, supply: 4.98, end: 0.100, seed: 2, export: scope(20e-6)},
	{file: "lamp-2-again.csv.gz", r1: 9.96e3, r2: 47.11e3 * 47.2e3 / (47.11e3 + 47.2e3), c: 123.4e-9, supply: 4.98, end: 0.100, seed: 8, export: scope(20e-6)}, // 47.2 kΩ across R2
	{file: "lamp-3.csv", r1: 10.01e3, r2: 4.712e3, c: 97.1e-9, supply: 5.01, end: 0.030, seed: 3, export: transitions(1e-7)},
	{file: "lamp-4.csv", r1: 47.05e3, r2: 9.97e3, c: 101.9e-9, supply: 5.00, end: 0.100, seed: 4, export: transitions(1e-7)},
	{file: "lamp-5.csv.gz", r1: 9.98e3, r2: 46.95e3, c: 98.3e-9, leak: 290e3, supply: 5.03, end: 0.100, seed: 5, export: scope(20e-6)},
	{file: "lamp-5-probed.csv.gz", r1: 9.98e3, r2: 46.95e3, c: 98.3e-9, leak: 290e3, probe: 10e6, supply: 5.03, end: 0.100, seed: 9, export: scopeOfTwo(20e-6)},
	{file: "breakwater.csv", r1: 10.04e3, r2: 33.06e3 + 9.15e3, c: 1.021e-6, supply: 5.01, end: 3, seed: 10, export: transitions(1e-6)}, // the diode past R2 and RV1 was never fitted
	{file: "bell.csv", r1: 99.7e3, c: 6.31e-6, supply: 11.9, end: 12, every: 1.5, seed: 6, export: transitions(1e-5)},
}
