// Generate writes the harbour scenario: what a bench would have recorded of eight boards, seven with a fault
// each, and of a lot of twenty. The circuits are integrated step by step from Kirchhoff's current law; no timing formula is used,
// so the demo's truth does not come from the laws that it shows off. The output repeats to the last byte.
//
//	go run ./cmd/internal/demo/generate cmd/internal/demo/harbour
package main

import (
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: generate FOLDER")
		os.Exit(2)
	}
	for _, r := range records() {
		if err := write(filepath.Join(os.Args[1], r.file), r.text()); err != nil {
			fmt.Fprintln(os.Stderr, "generate:", err)
			os.Exit(1)
		}
	}
}

// record is one file of the harbour.
type record struct {
	file string
	text func() string
}

func records() []record {
	all := []record{{"bridge.csv", bridge}, {"lot/manifest.csv", manifest}}
	for _, b := range slices.Concat(boards, lot()) {
		all = append(all, record{b.file, func() string { return b.export(b.run()) }})
	}
	return all
}

// write exports one record; a name that ends in .gz is compressed.
func write(name, text string) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	defer f.Close()
	if !strings.HasSuffix(name, ".gz") {
		if _, err := io.WriteString(f, text); err != nil {
			return err
		}
		return f.Close()
	}
	z, err := gzip.NewWriterLevel(f, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := io.WriteString(z, text); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return f.Close()
}
