package cli

import (
	"io/fs"
	"os"
	"path/filepath"

	"offbeat/cmd/internal/streams"
)

// file is a file that a command line names, and what it is there.
type file struct{ what, name string }

// files are what a command reads and what it writes; an empty name is none.
type files struct{ in, out []file }

// reads adds what is read.
func (f *files) reads(what string, names ...string) {
	for _, n := range names {
		if n != "" {
			f.in = append(f.in, file{what, n})
		}
	}
}

// writes adds what is written.
func (f *files) writes(what string, names ...string) {
	for _, n := range names {
		if n != "" {
			f.out = append(f.out, file{what, n})
		}
	}
}

// database adds a ledger that is a file, with what its library keeps beside it.
func (f *files) database(add func(string, ...string), what, name string) {
	if name != "" {
		add(what, name, name+"-wal", name+"-shm", name+"-journal")
	}
}

// identity is which file a name means, whatever it is called by.
type identity struct {
	file
	info fs.FileInfo // nil: it is not there
	path string      // where it would be
}

func (a *identity) is(b *identity) bool {
	if a.info != nil && b.info != nil {
		return os.SameFile(a.info, b.info)
	}
	return a.info == nil && b.info == nil && a.path != "" && a.path == b.path
}

// identify finds the file behind a name. Only a plain file can be lost: anything else has no identity here.
func identify(f file, standard any) *identity {
	i := &identity{file: f}
	var err error
	if f.name == "-" {
		s, ok := standard.(interface{ Stat() (fs.FileInfo, error) })
		if !ok {
			return nil
		}
		i.info, err = s.Stat()
	} else {
		i.info, err = os.Stat(f.name)
	}
	if err == nil {
		if !i.info.Mode().IsRegular() {
			return nil
		}
		return i
	}
	if i.info = nil; f.name == "-" {
		return nil
	}
	if i.path, err = filepath.Abs(f.name); err != nil {
		return nil
	}
	if folder, err := filepath.EvalSymlinks(filepath.Dir(i.path)); err == nil {
		i.path = filepath.Join(folder, filepath.Base(i.path))
	}
	return i
}

// check refuses to write over what is read, and to write two things into one file. Nothing is done before.
func (f files) check(s *streams.Streams) error {
	if len(f.out) == 0 || f.out[0].what != standardOutput {
		f.out = append([]file{{standardOutput, "-"}}, f.out...)
	}
	var in, out []*identity
	for _, r := range f.in {
		if i := identify(r, s.In); i != nil && i.info != nil {
			in = append(in, i)
		}
	}
	for _, w := range f.out {
		i := identify(w, s.Terminal())
		if i == nil || w.name == "-" && w.what != standardOutput { // "-" stands in standard output's place
			continue
		}
		for _, r := range in {
			if i.is(r) {
				return usagef("%s would write over %s, which is %s; expected another file's name", w.what, r.name, r.what)
			}
		}
		for _, o := range out {
			if i.is(o) {
				return usagef("%s and %s both want %s; expected a file for each", o.what, w.what, w.name)
			}
		}
		out = append(out, i)
	}
	return nil
}

const standardOutput = "standard output"

// command is what a command was asked, ready to be run.
type command interface {
	files(*streams.Streams) files // that the command line names
	run(*streams.Streams) error
}

// perform runs a command that would not write over what it reads, or what a test has put in its place.
func perform[O command](instead func(O) error, o O, s *streams.Streams) error {
	if instead != nil {
		return instead(o)
	}
	if err := o.files(s).check(s); err != nil {
		return err
	}
	return o.run(s)
}
