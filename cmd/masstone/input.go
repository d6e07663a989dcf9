package main

import (
	"context"
	"fmt"
	"io"
	"os"

	"masstone/recipes/workbench"
)

// The most that is read of a file: readings come in kilobytes, the bundle of a
// whole bench in megabytes.
const (
	mostReadings = 64 << 20
	mostBundle   = 256 << 20
)

// read reads a file whole; "-" is standard input. It is done before a bench is
// opened, since a pipe or a keyboard may keep it waiting, and hears an interrupt
// while it waits. The error is one line.
func (e *Env) read(ctx context.Context, name string, most int64) ([]byte, error) {
	type result struct {
		data []byte
		err  error
	}
	done := make(chan result, 1)
	go func() {
		data, err := e.readAll(name, most)
		done <- result{data, err}
	}()
	select {
	case r := <-done:
		return r.data, r.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (e *Env) readAll(name string, most int64) ([]byte, error) {
	var in io.Reader = e.Stdin
	if name != "-" {
		f, err := os.Open(e.path(name))
		if err != nil {
			return nil, fmt.Errorf("%s: cannot be read (%w); check the name and the folder", name, reason(err))
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && info.IsDir() {
			return nil, fmt.Errorf("%s: is a folder; name a file in it", name)
		}
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: cannot be read (%w); check the file and try again", title(name), reason(err))
	case int64(len(data)) > most:
		return nil, fmt.Errorf("%s: is larger than %d MB, the most that is read; check that it is the file you mean", title(name), most>>20)
	}
	return data, nil
}

// rewind lets a file be read once more.
func rewind(f *workbench.File) {
	if f != nil {
		f.Data.(io.Seeker).Seek(0, io.SeekStart)
	}
}
