// Generate writes the harbour scenario: what a bench would have recorded of six boards, five with a fault
// each. The circuits are integrated step by step from Kirchhoff's current law; no timing formula is used,
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
	"strings"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: generate FOLDER")
		os.Exit(2)
	}
	for _, b := range boards {
		if err := write(filepath.Join(os.Args[1], b.file), b); err != nil {
			fmt.Fprintln(os.Stderr, "generate:", err)
			os.Exit(1)
		}
	}
}

// write exports one board; a name that ends in .gz is compressed.
func write(name string, b board) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	defer f.Close()
	text := b.export(b.run())
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
