package main

import (
	"bytes"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Every module that the built program itself says it is made of has its notice, and so has Go.
func TestEveryLinkedModuleHasItsNotice(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}").Output()
	if err != nil {
		t.Skipf("no go command: %v", err)
	}
	t.Chdir(strings.TrimSpace(string(out)))
	var b bytes.Buffer
	if err := write(&b, "./cmd/offbeat", []string{"linux/amd64", "windows/amd64"}); err != nil {
		t.Fatal(err)
	}
	binary := filepath.Join(t.TempDir(), "offbeat")
	if out, err := exec.Command("go", "build", "-ldflags=-s -w", "-o", binary, "./cmd/offbeat").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	made, err := exec.Command("go", "version", "-m", binary).Output()
	if err != nil {
		t.Fatal(err)
	}
	count := 0
	for line := range strings.Lines(string(made)) {
		if f := strings.Fields(line); len(f) >= 3 && f[0] == "dep" {
			count++
			if !strings.Contains(b.String(), "\n"+f[1]+" "+f[2]+"\n") {
				t.Errorf("no notice of %s", f[1])
			}
		}
	}
	if count < 5 || !strings.Contains(b.String(), "The Go programming language") || strings.Count(b.String(), "\n--- ") <= count {
		t.Errorf("%d modules, %d bytes of notices", count, b.Len())
	}
}
