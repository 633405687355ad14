package cli

import "offbeat/cmd/internal/streams"

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
