//go:build unix

package cli

import (
	"errors"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

func saying(words string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, words); return err }
}

// A new file gets the mode that the user's mask leaves, an old one keeps its own; links and what they point to stay.
func TestModesAndLinksAreKept(t *testing.T) {
	t.Chdir(t.TempDir())
	check := func(name, want string, mode os.FileMode) {
		t.Helper()
		i, err := os.Stat(name)
		b, e := os.ReadFile(name)
		if err != nil || e != nil || i.Mode().Perm() != mode || string(b) != want {
			t.Errorf("%s: %v, %q, %v %v; want %v, %q", name, i.Mode(), b, err, e, mode, want)
		}
	}
	for _, mask := range []int{0o022, 0o077, 0} {
		old := syscall.Umask(mask)
		err := writeFile("new", saying("new"))
		syscall.Umask(old)
		if err != nil {
			t.Fatal(err)
		}
		check("new", "new", os.FileMode(0o666&^mask))
		if err := os.Remove("new"); err != nil {
			t.Fatal(err)
		}
	}
	for _, mode := range []os.FileMode{0o600, 0o640, 0o664, 0o755} {
		if err := errors.Join(os.WriteFile("old", []byte("something longer"), 0o600), os.Chmod("old", mode), writeFile("old", saying("new"))); err != nil {
			t.Fatal(err)
		}
		check("old", "new", mode)
	}
	if err := errors.Join(os.Mkdir("far", 0o755), os.Symlink("old", "link"), os.Symlink("far/none", "dangling"), os.Link("old", "hard")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"link", "dangling", "hard"} {
		if err := writeFile(name, saying(name)); err != nil {
			t.Fatal(err)
		}
		for _, link := range []string{"link", "dangling"} {
			if i, err := os.Lstat(link); err != nil || i.Mode()&os.ModeSymlink == 0 {
				t.Errorf("after %s: %s is no link any more, %v", name, link, err)
			}
		}
		old, err := os.Stat("old")
		hard, e := os.Stat("hard")
		if err != nil || e != nil || !os.SameFile(old, hard) {
			t.Errorf("after %s: the hard link is parted", name)
		}
	}
	check("old", "hard", 0o755)
	check("far/none", "dangling", 0o644)
	if left, err := filepath.Glob(".offbeat-*"); err != nil || len(left) > 0 {
		t.Errorf("%v, %v", left, err)
	}
}

// Devices and pipes are written to as they are.
func TestDevicesAndPipes(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := writeFile(os.DevNull, saying("gone")); err != nil {
		t.Error(err)
	}
	if i, err := os.Stat(os.DevNull); err != nil || i.Mode()&os.ModeDevice == 0 {
		t.Fatalf("%s: %v, %v", os.DevNull, i, err)
	}
	if err := syscall.Mkfifo("pipe", 0o600); err != nil {
		t.Fatal(err)
	}
	got := make(chan string)
	go func() {
		b, _ := os.ReadFile("pipe")
		got <- string(b)
	}()
	if err := writeFile("pipe", saying("through")); err != nil {
		t.Error(err)
	}
	if g := <-got; g != "through" {
		t.Errorf("%q came through the pipe", g)
	}
	if i, err := os.Lstat("pipe"); err != nil || i.Mode()&os.ModeNamedPipe == 0 {
		t.Errorf("the pipe is %v, %v", i, err)
	}
	if err := writeFile("/dev/full", saying("x")); err == nil && exists("/dev/full") {
		t.Error("a full device took it")
	}
}

func exists(name string) bool { _, err := os.Stat(name); return err == nil }

// Whatever ends the program while a file is written leaves neither the file nor a part of it, and says what it was.
func TestEverySignalLeavesNothing(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, sig := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGPIPE} {
		if signal.Ignored(sig) { // started so that it outlives its terminal: then it is to go on
			continue
		}
		for _, old := range []string{"", "old"} {
			if old != "" {
				if err := os.WriteFile("x.csv", []byte(old), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			err := writeFile("x.csv", func(w io.Writer) error {
				if err := syscall.Kill(os.Getpid(), sig); err != nil {
					return err
				}
				time.Sleep(150 * time.Millisecond) // the last byte is written already when the signal is seen
				return nil
			})
			b, _ := os.ReadFile("x.csv")
			left, e := filepath.Glob(".offbeat-*")
			if !errors.Is(err, errInterrupted) || e != nil || len(left) != 0 || string(b) != old || exists("x.csv") != (old != "") {
				t.Errorf("%v: %v, %v, %q", sig, err, left, b)
			}
			os.Remove("x.csv")
		}
	}
}
