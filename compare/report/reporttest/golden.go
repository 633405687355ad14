package reporttest

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// Golden compares what was printed with testdata/golden/NAME; on a mismatch .got-NAME is left beside it.
func Golden(t testing.TB, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", "golden", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		left := filepath.Join("testdata", "golden", ".got-"+name)
		if err := os.WriteFile(left, got, 0o644); err != nil {
			t.Fatal(err)
		}
		t.Errorf("%s differs from %s:\n%s", left, file, got)
	}
}
