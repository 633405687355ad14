package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
)

// writeFile writes a file whole or not at all: a name that appears is complete. "-" is the given writer.
func writeFile(name string, out io.Writer, write func(io.Writer) error) error {
	if name == "-" {
		return printed(write(out))
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".offbeat-*")
	if err != nil {
		return unwritable(name, err)
	}
	defer os.Remove(f.Name()) // gone already when all went well
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	err = write(interruptible{ctx, f})
	if err == nil {
		err = f.Chmod(0o644)
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return unwritable(name, err)
	}
	return nil
}

// interruptible stops taking bytes once the user has pressed Ctrl-C, so that the half-written file is taken away again.
type interruptible struct {
	ctx context.Context
	w   io.Writer
}

var errInterrupted = errors.New("interrupted")

func (i interruptible) Write(b []byte) (int, error) {
	if i.ctx.Err() != nil {
		return 0, errInterrupted
	}
	return i.w.Write(b)
}

// unwritable names the file that was meant; the temporary one means nothing to a user.
func unwritable(name string, err error) error {
	if i, e := os.Stat(name); e == nil && i.IsDir() {
		return fmt.Errorf("%s cannot be written: it is a folder; expected a file's name", name)
	}
	return fmt.Errorf("%s cannot be written: %w", name, reason(err))
}

// reason is why the system refused, without the names that it was given.
func reason(err error) error {
	var p *fs.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &p):
		return p.Err
	case errors.As(err, &l):
		return l.Err
	}
	return err
}

// printed explains a failure to print.
func printed(err error) error {
	if err != nil {
		return fmt.Errorf("the result cannot be printed: %w", err)
	}
	return nil
}
