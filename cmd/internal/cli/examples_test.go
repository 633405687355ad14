package cli

import (
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// elsewhere are words of examples that need what no test has: a port, a database server, somebody's own folder, time, or
// somebody at the bench page, who has tests of its own.
var elsewhere = []string{"/dev/", "postgres:", "~/", "--for 20s", "offbeat bench"}

// The examples of every command's help run: on files of the harbour under the examples' names, they end with a result.
func TestExamplesOfTheHelpRun(t *testing.T) {
	s, _, _ := buffered("")
	var examples []string
	for _, c := range documented(newRoot(s)) {
		if c.Runnable() && c.Name() != "completion" && c.Example == "" {
			t.Errorf("the help of %s has no example", c.Name())
		}
		examples = append(examples, strings.Split(c.Example, "\n")...)
	}
	bench(t)
	named(t)
	n := 0
	for _, line := range examples {
		if line = strings.TrimSpace(line); line == "" || wants(line, elsewhere) {
			continue
		}
		n++
		if stdout, stderr, status := enter(t, line); status == Usage || status == Failed || stdout+stderr == "" {
			t.Errorf("%s\nstatus %d\n%s", line, status, stderr)
		}
	}
	if n < 25 {
		t.Errorf("only %d examples were run", n)
	}
}

func wants(line string, words []string) bool {
	for _, w := range words {
		if strings.Contains(line, w) {
			return true
		}
	}
	return false
}

// enter runs a command line with its pipe or its "<", as far as it is the program's own.
func enter(t *testing.T, line string) (stdout, stderr string, status int) {
	t.Helper()
	if before, after, ok := strings.Cut(line, " | "); ok {
		if first, isProgram := strings.CutPrefix(before, "offbeat "); isProgram {
			if stdout, stderr, status = run(t, "", split(first)...); !strings.HasPrefix(after, "offbeat ") {
				return stdout, stderr, status
			}
		} else {
			stdout = read(t, strings.Fields(before)[2]) // gzip -dc FILE
		}
		return run(t, stdout, split(strings.TrimPrefix(after, "offbeat "))...)
	}
	command, file, ok := strings.Cut(line, " < ")
	input := ""
	if ok {
		input = read(t, file)
	}
	return run(t, input, split(strings.TrimPrefix(command, "offbeat "))...)
}

// read is a file's content, decompressed where its name says so.
func read(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if filepath.Ext(name) != ".gz" {
		return string(b)
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if b, err = io.ReadAll(z); err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// named puts the harbour's files into the folder under the names that the examples use.
func named(t *testing.T) {
	t.Helper()
	write := func(name, content string) {
		if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	plain := read(t, "lamp-2.csv.gz")
	for _, name := range []string{"today.csv", "again.csv"} {
		write(name, plain)
	}
	probed := read(t, "lamp-5-probed.csv.gz")
	write("probed.csv", strings.NewReplacer("Output", "CH1", "Capacitor", "CH2").Replace(probed))
	write("logic.csv", strings.Replace(read(t, "bridge.csv"), "out,set,reset", "Q,S,R", 1))
	write("drawer.csv", "value,kind\n39k,resistor\n100n,capacitor\n")
	write("saved.log", strings.Repeat("H 4000\nL 3300\n", 200))
	earlier, _, _ := run(t, "", "reconcile", "lamp.toml", "lamp-1.csv.gz", "--json")
	write("spring.json", earlier)
	if err := os.Mkdir("captures", 0o755); err != nil {
		t.Fatal(err)
	}
	manifest := "board,capture\n"
	for _, name := range []string{"lamp-01.csv", "lamp-02.csv", "lamp-13.csv"} {
		write("captures/"+name, read(t, "lot/"+name))
		manifest += "lamp 7,captures/" + name + "\n"
	}
	write("manifest.csv", manifest)
	write("capture.csv", plain)
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err := z.Write([]byte(plain)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	write("capture.csv.gz", packed.String())
	if _, stderr, status := run(t, "", "lot", "lamp.toml", "manifest.csv", "--ledger", "harbour.db", "--quiet"); status == Usage || status == Failed {
		t.Fatal(stderr)
	}
}
