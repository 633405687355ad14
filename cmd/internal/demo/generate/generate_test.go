package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The files in harbour are what this program writes. The compressed bytes may change with the compressor, the
// text may not.
func TestHarbourIsWhatGenerateWrites(t *testing.T) {
	for _, b := range records() {
		got, err := os.ReadFile(filepath.Join("..", "harbour", b.file))
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(b.file, ".gz") {
			z, err := gzip.NewReader(bytes.NewReader(got))
			if err != nil {
				t.Fatal(err)
			}
			if got, err = io.ReadAll(z); err != nil {
				t.Fatal(err)
			}
		}
		if want := b.text(); string(got) != want {
			t.Errorf("%s is not what the program writes: run go run ./cmd/internal/demo/generate cmd/internal/demo/harbour", b.file)
		}
	}
}

// The integrator on a case that is solved by hand: a capacitor through a resistor from 0 toward 1 V reaches
// 1 - 1/e after one time constant. The fourth-order error of a step of tau/1000 is far below 1e-9.
func TestAdvanceFollowsTheExponential(t *testing.T) {
	const r, c = 1e3, 1e-6
	v := 0.0
	for range 1000 {
		v = advance(v, r*c/1000, c, func(v float64) float64 { return (1 - v) / r })
	}
	const want = 0.63212055882855767 // 1 - 1/e
	if d := v - want; d > 1e-9 || d < -1e-9 {
		t.Errorf("%v, want %v", v, want)
	}
}
