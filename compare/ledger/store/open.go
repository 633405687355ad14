package store

import (
	"context"
	"errors"
)

// Read opens a ledger for reading: nothing is written, no other user is held up, and the right to SELECT is enough.
func Read(ctx context.Context, name string) (*Store, error) {
	return begin(ctx, name, reading, (*Store).compatible)
}

// Open opens a ledger for a station: the right to INSERT is enough. A file that does not exist is made, and an empty
// ledger gets its tables; those of another version are left alone.
func Open(ctx context.Context, name string) (*Store, error) {
	return begin(ctx, name, writing, func(s *Store, ctx context.Context) error {
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
	return begin(ctx, name, writing, (*Store).migrate)
}

// begin connects and sees to the tables before anybody uses them. Who makes a file's log is told that it is busy, not made to wait.
func begin(ctx context.Context, name string, write bool, ready func(*Store, context.Context) error) (*Store, error) {
	s, err := connect(name, write)
	if err != nil {
		return nil, err
	}
	err = patiently(ctx, func() error {
		if err := s.db.PingContext(ctx); err != nil {
			return err
		}
		return ready(s, ctx)
	})
	if err != nil {
		s.db.Close()
		return nil, s.fault("cannot be used", err)
	}
	return s, nil
}
