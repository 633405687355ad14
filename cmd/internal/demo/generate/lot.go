package main

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// lotSize is how many lamps were drawn from the new batch of 150.
const lotSize = 20

// lot is the new batch: the capacitors' whole reel reads 22 % high, the resistors are as they should be, and on lamp 13
// R1 and R2 stand in each other's place.
func lot() []board {
	rng := rand.New(rand.NewPCG(20, 1))
	about := func(value, spread float64) float64 { return value * (1 + spread*rng.NormFloat64()) }
	all := make([]board, lotSize)
	for i := range all {
		all[i] = board{file: lotFile(i + 1), r1: about(10e3, 0.003), r2: about(47e3, 0.003), c: about(122e-9, 0.012),
			supply: about(5, 0.003), end: 0.120, seed: uint64(100 + i), export: transitions(1e-7)}
	}
	all[12].r1, all[12].r2 = all[12].r2, all[12].r1
	return all
}

func lotFile(n int) string { return fmt.Sprintf("lot/lamp-%02d.csv", n) }

// manifest lists the lot: one board a row, two stations by turns.
func manifest() string {
	var b strings.Builder
	b.WriteString("board,capture,lot,station,time\n")
	for n := 1; n <= lotSize; n++ {
		fmt.Fprintf(&b, "lamp %d,lamp-%02d.csv,week 9,%s,2031-03-03T09:%02d:00Z\n", n, n, []string{"quay", "shed"}[n%2], 2*n)
	}
	return b.String()
}
