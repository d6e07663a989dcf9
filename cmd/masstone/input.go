package main

import (
	"context"
	"fmt"
	"io"
	"os"

	"masstone/recipes/outfile"
	"masstone/recipes/workbench"
)

// The most that is read of a file: readings come in kilobytes, the bundle of a
// whole bench in megabytes; that is never held in memory.
const (
	mostReadings = 64 << 20
	mostBundle   = 64 << 30
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
	in, done, err := e.open(name)
	if err != nil {
		return nil, err
	}
	defer done()
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err == nil && int64(len(data)) > most {
		return nil, tooLarge(name, most)
	}
	return data, unread(name, err)
}

// open opens a file for reading, which may wait where it is a pipe.
func (e *Env) open(name string) (in io.Reader, done func() error, err error) {
	if name == "-" {
		return e.Stdin, func() error { return nil }, nil
	}
	f, err := os.Open(e.path(name))
	if err != nil {
		return nil, nil, fmt.Errorf("%s: cannot be read (%w); check the name and the folder", name, reason(err))
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, nil, fmt.Errorf("%s: is a folder; name a file in it", name)
	}
	return f, f.Close, nil
}

// large opens what is read piece by piece, with its size. What comes by a pipe is
// first put into a file: the bench must not wait for it, nor all of it be held in
// memory. The file has no name where that can be, and so is gone with the program,
// however it ends; elsewhere it goes when done is called, or the next one is made.
func (e *Env) large(ctx context.Context, name string, most int64) (f *os.File, size int64, done func(), err error) {
	if info, err := os.Stat(e.path(name)); name != "-" && (err != nil || info.IsDir() || info.Mode().IsRegular()) {
		in, _, err := e.open(name)
		if err != nil {
			return nil, 0, nil, err
		}
		f := in.(*os.File)
		if info.Size() > most {
			f.Close()
			return nil, 0, nil, tooLarge(name, most)
		}
		return f, info.Size(), func() { f.Close() }, nil
	}
	part, drop, err := outfile.Part(os.TempDir())
	if err == nil {
		if f, err = os.OpenFile(part, os.O_RDWR, 0); err != nil {
			drop()
		}
	}
	if err != nil {
		return nil, 0, nil, fmt.Errorf("%s: cannot be kept while it is read (%w); give the name of a file", title(name), reason(err))
	}
	os.Remove(part) // fails where an open file has to have a name
	done = func() {
		f.Close()
		drop()
	}
	copied := make(chan error, 1)
	go func() { copied <- e.copy(f, name, most) }()
	select {
	case err = <-copied:
	case <-ctx.Done():
		err = ctx.Err()
	}
	if err == nil {
		size, err = f.Seek(0, io.SeekEnd)
	}
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		done()
	}
	return f, size, done, err
}

// copy writes what comes by a pipe to a file.
func (e *Env) copy(to io.Writer, name string, most int64) error {
	in, done, err := e.open(name)
	if err != nil {
		return err
	}
	defer done()
	n, err := io.Copy(to, io.LimitReader(in, most+1))
	if err == nil && n > most {
		return tooLarge(name, most)
	}
	return unread(name, err)
}

func tooLarge(name string, most int64) error {
	return fmt.Errorf("%s: is larger than %d MB, the most that is read; check that it is the file you mean", title(name), most>>20)
}

// unread words what keeps a file from being read to its end.
func unread(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: cannot be read (%w); check the file and try again", title(name), reason(err))
}

// rewind lets a file be read once more.
func rewind(f *workbench.File) {
	if f != nil {
		f.Data.(io.Seeker).Seek(0, io.SeekStart)
	}
}
