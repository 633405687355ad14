package store

import (
	"context"
	"errors"
)

// Read opens a ledger for reading: nothing is written, no other user is held up, and the right to SELECT is enough.
func Read(ctx context.Context, name string) (*Store, error) {
	s, err := connect(name, reading)
	if err != nil {
		return nil, err
	}
	return s.begin(ctx, s.compatible)
}

// Open opens a ledger for a station: the right to INSERT is enough. A file that does not exist is made, and an empty
// ledger gets its tables; those of another version are left alone.
func Open(ctx context.Context, name string) (*Store, error) {
	s, err := connect(name, writing)
	if err != nil {
		return nil, err
	}
	return s.begin(ctx, func(ctx context.Context) error {
		err := s.compatible(ctx)
		if errors.Is(err, errEmpty) {
			return s.migrate(ctx)
		}
		if denied(err) { // a station that may not SELECT finds out as it writes
			return nil
		}
		return err
	})
}

// Migrate opens a ledger, makes it where there is none, and brings its tables up to date.
func Migrate(ctx context.Context, name string) (*Store, error) {
	s, err := connect(name, writing)
	if err != nil {
		return nil, err
	}
	return s.begin(ctx, s.migrate)
}

// begin sees to the tables before anybody uses them. Who makes a file's log is told that it is busy, not made to wait.
func (s *Store) begin(ctx context.Context, ready func(context.Context) error) (*Store, error) {
	err := patiently(ctx, func() error {
		if err := s.db.PingContext(ctx); err != nil {
			return err
		}
		return ready(ctx)
	})
	if err != nil {
		s.db.Close()
		return nil, s.fault("cannot be used", err)
	}
	return s, nil
}
