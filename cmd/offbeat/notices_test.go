package main

import (
	"os/exec"
	"runtime/debug"
	"strings"
	"testing"
)

// Every module that the program says it is made of has its notice, and so has Go. Of a command the test is linked from what the
// command is, and says so itself: to link it once more would take seconds.
func TestEveryLinkedModuleHasItsNotice(t *testing.T) {
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip(err)
	}
	made, ok := debug.ReadBuildInfo()
	if !ok || made.Path != "offbeat/cmd/offbeat" {
		t.Fatalf("the test does not say what it is made of: %+v", made)
	}
	c := exec.Command("go", "run", "./cmd/internal/notices", "linux/amd64", "windows/amd64")
	c.Dir = top
	notices, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range made.Deps {
		if !strings.Contains(string(notices), "\n"+m.Path+" "+m.Version+"\n") {
			t.Errorf("no notice of %s", m.Path)
		}
	}
	if len(made.Deps) < 5 || !strings.Contains(string(notices), "The Go programming language") || strings.Count(string(notices), "\n--- ") <= len(made.Deps) {
		t.Errorf("%d modules, %d bytes of notices", len(made.Deps), len(notices))
	}
}
