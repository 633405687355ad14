// Notices writes the licences of all that is linked into the program: Go's own and every module's, with what single
// packages of a module carry besides. It takes the platforms, such as linux/amd64.
package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
)

func main() {
	platforms := os.Args[1:]
	if len(platforms) == 0 {
		platforms = []string{runtime.GOOS + "/" + runtime.GOARCH}
	}
	if err := write(os.Stdout, "./cmd/offbeat", platforms); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// module is one that is linked, with the folders of its packages that are.
type module struct {
	name, root string
	folders    []string
}

// listed is what `go list` is asked of each package: its module, the module's folder, its own.
const listed = `{{if .Standard}}{{else}}{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}	{{.Dir}}	{{end}}{{end}}{{.Dir}}{{end}}`

// linked lists the modules of a program on these platforms, in the order of their names.
func linked(program string, platforms []string) ([]*module, error) {
	all := map[string]*module{}
	for _, p := range platforms {
		system, machine, found := strings.Cut(p, "/")
		if !found {
			return nil, fmt.Errorf("%q is no platform; expected one such as linux/amd64", p)
		}
		c := exec.Command("go", "list", "-deps", "-f", listed, program)
		c.Env = append(os.Environ(), "GOOS="+system, "GOARCH="+machine, "CGO_ENABLED=0")
		c.Stderr = os.Stderr
		out, err := c.Output()
		if err != nil {
			return nil, fmt.Errorf("go list for %s: %w", p, err)
		}
		for line := range strings.Lines(string(out)) {
			cells := strings.Split(strings.TrimSpace(line), "\t")
			if len(cells) != 3 {
				continue // the program's own
			}
			m := all[cells[0]]
			if m == nil {
				m = &module{name: cells[0], root: cells[1]}
				all[cells[0]] = m
			}
			if !slices.Contains(m.folders, cells[2]) {
				m.folders = append(m.folders, cells[2])
			}
		}
	}
	out := []*module{}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		out = append(out, all[name])
	}
	return out, nil
}

// notice is what a file that holds a licence or a notice is called.
var notice = regexp.MustCompile(`(?i)^(licen[cs]e|copying|copyright|notice|patents|unlicense)([-_.].*)?$`)

// notices are the files of a folder that hold some.
func notices(folder string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	var out []string
	for _, e := range entries {
		if !e.IsDir() && notice.MatchString(e.Name()) && filepath.Ext(e.Name()) != ".go" {
			out = append(out, filepath.Join(folder, e.Name()))
		}
	}
	return out, err
}

// write writes everything; a module without a licence is an error.
func write(to io.Writer, program string, platforms []string) error {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return fmt.Errorf("go env: %w", err)
	}
	modules, err := linked(program, platforms)
	if err != nil {
		return err
	}
	goes := strings.TrimSpace(string(root))
	modules = append([]*module{{name: "The Go programming language, " + runtime.Version(), root: goes}}, modules...)
	w := bufio.NewWriter(to)
	fmt.Fprintln(w, "offbeat is linked with what is listed here, each under the terms that follow its name.")
	for _, m := range modules {
		var files []string
		for _, folder := range m.above() {
			some, err := notices(folder)
			if err != nil {
				return err
			}
			files = append(files, some...)
		}
		if len(files) == 0 {
			return fmt.Errorf("%s carries no licence", m.name)
		}
		fmt.Fprintf(w, "\n%s\n%s\n", strings.Repeat("=", 80), m.name)
		for _, f := range files {
			text, err := os.ReadFile(f)
			if err != nil {
				return err
			}
			short, err := filepath.Rel(m.root, f)
			if err != nil {
				return err
			}
			fmt.Fprintf(w, "\n--- %s\n\n%s\n", filepath.ToSlash(short), bytes.TrimSpace(text))
		}
	}
	return w.Flush()
}

// above lists the module's folder and every one between it and a linked package, since a licence covers what is below it.
func (m *module) above() []string {
	all := map[string]bool{m.root: true}
	for _, f := range m.folders {
		for ; len(f) > len(m.root); f = filepath.Dir(f) {
			all[f] = true
		}
	}
	return slices.Sorted(maps.Keys(all))
}
