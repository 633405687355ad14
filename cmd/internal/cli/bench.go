package cli

import (
	"fmt"
	"os/exec"
	"runtime"

	"github.com/spf13/cobra"

	"offbeat/acquire/listen"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
)

func newBench(s *streams.Streams, run func(*benchOptions) error) *cobra.Command {
	o := &benchOptions{}
	c := worded("bench", func(c *cobra.Command, args []string) error {
		if o.Port < 0 || o.Port > 65535 {
			return usagef("--port %d; expected a number from 1 to 65535, or none for a free one", o.Port)
		}
		if o.Listen == "" && (c.Flags().Changed("baud") || o.Unit != "") {
			return usagef("--baud and --unit are of what is heard; expected --listen PORT beside them")
		}
		if o.Lot != "" && len(args) == 0 {
			return usagef("--lot %s; expected the DESIGN of its boards too", o.Lot)
		}
		if o.Unit != "" {
			if err := listen.CheckUnit(o.Unit); err != nil {
				return usagef("--%w", err)
			}
		}
		if len(args) > 0 {
			o.File, o.Captures = args[0], args[1:]
		}
		return perform(run, o, s)
	})
	c.Flags().IntVar(&o.Port, "port", 0, "serve the page at port `NUMBER` (default a free one)")
	c.Flags().StringVar(&o.Lot, "lot", "", "begin with the lot of boards that `MANIFEST` lists: a table, a folder or a pattern")
	c.Flags().StringVar(&o.Listen, "listen", "", "hear the serial `PORT` (- is standard input), so that what comes can be taken as evidence")
	c.Flags().IntVar(&o.Baud, "baud", listen.DefaultBaud, "speed of the port that is heard")
	c.Flags().StringVar(&o.Unit, "unit", "", "`UNIT` of the times that are heard, as offbeat listen takes it")
	c.Flags().BoolVar(&o.NoBrowser, "no-browser", false, "print the address and open no browser")
	return c
}

func (o *benchOptions) files(*streams.Streams) files {
	var f files
	f.reads("the design", o.File)
	f.reads("a capture", o.Captures...)
	f.reads("what is listened to", o.Listen)
	f.reads("the list of boards", o.Lot)
	return f
}

func (o *benchOptions) run(s *streams.Streams) error {
	if designfile.IsNetlist(o.File) {
		return usagef("%s is a netlist, and the page saves a design file; expected a .toml file (offbeat help wiring says how cards are written in one)", o.File)
	}
	ctx, stop := untilInterrupted()
	defer stop()
	store, err := benchpage.NewFiles()
	if err != nil {
		return err
	}
	defer store.Close()
	w, err := newWorkbench(s, o, store)
	if err != nil {
		return err
	}
	if w.ear, err = o.newEar(ctx, s, store); err != nil {
		return err
	}
	if w.ear != nil {
		defer w.ear.Close()
	}
	server, err := benchpage.Serve(w, store, benchpage.Options{Port: o.Port})
	if err != nil {
		return err
	}
	defer server.Close()
	if _, err := fmt.Fprintf(s.Out, "The bench page is at %s\nIt stays until Ctrl-C.\n", server.URL()); err != nil {
		return printed(err)
	}
	if o.begun != nil {
		o.begun(server.URL())
	}
	if !o.NoBrowser {
		if err := browse(server.URL()); err != nil {
			fmt.Fprintf(s.Err, "No browser could be opened (%v); open the address by hand.\n", err)
		}
	}
	<-ctx.Done()
	return nil
}

// browse opens an address in the user's browser.
func browse(url string) error {
	words, ok := map[string][]string{
		"darwin":  {"open"},
		"windows": {"rundll32", "url.dll,FileProtocolHandler"},
	}[runtime.GOOS]
	if !ok {
		words = []string{"xdg-open"}
	}
	c := exec.Command(words[0], append(words[1:], url)...)
	if err := c.Start(); err != nil {
		return err
	}
	go c.Wait() // so that nothing of it is left
	return nil
}
