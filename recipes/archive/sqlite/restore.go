package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"masstone/color/remedy"
	"masstone/recipes/archive/engine"
	"masstone/recipes/outfile"
)

// A Restoring puts a copy of a backup in the place of a bench.
//
// The new file comes in by one rename. If the machine dies before it, the bench
// is as it was; if between it and the removal of the old log, opening refuses
// the bench (see ownLog) until it was restored again.
type Restoring struct {
	Path, Backup string
	Now          time.Time // for the name under which what was there is kept
	// Check opens the copy, brings it to the schema of this program and tells what is
	// wrong with it, before anything is touched.
	Check func(copied string) error

	// For tests: they are called with the bench locked, and with the copy in its place
	// but the old log still beside it.
	Locked, Renamed func()
}

// Do restores, and returns the name of what was replaced, empty if there was no
// bench. A bench in use is refused with ErrBusy.
func (r Restoring) Do(ctx context.Context) (replaced string, err error) {
	abs, err := filepath.Abs(r.Path)
	if err != nil {
		return "", fmt.Errorf("bench %s: %w", r.Path, err)
	}
	if a, err := os.Stat(r.Path); err == nil {
		if b, err := os.Stat(r.Backup); err == nil && os.SameFile(a, b) {
			return "", fmt.Errorf("restore: %w: %s is the bench itself; name a backup", engine.ErrInvalid, r.Backup)
		}
	}
	part, drop, err := outfile.Part(filepath.Dir(abs))
	if err != nil {
		return "", fmt.Errorf("restore: cannot write beside the bench (%w)", err)
	}
	defer drop()
	defer Remove(part)
	if err := r.lay(ctx, part); err != nil {
		return "", err
	}
	lock, err := lockAll(abs)
	switch {
	case errors.Is(err, os.ErrNotExist):
	case errors.Is(err, engine.ErrBusy):
		return "", fmt.Errorf("%s: %w: another program has it open; close it and try again", r.Path, engine.ErrBusy)
	case err != nil:
		return "", fmt.Errorf("bench %w", err)
	default:
		defer lock.Close()
		if replaced, err = setAside(abs, r.Now); err != nil {
			return "", fmt.Errorf("%s: cannot be kept under another name (%w); make room beside it and try again, nothing was changed", r.Path, err)
		}
		replaced = filepath.Join(filepath.Dir(r.Path), filepath.Base(replaced))
	}
	if r.Locked != nil {
		r.Locked()
	}
	// Who opens the copy before the old log is gone would have it replayed: the lock
	// of the copy makes them wait.
	hold, err := lockAll(part)
	if err != nil {
		return replaced, fmt.Errorf("bench %w", err)
	}
	defer hold.Close()
	if err := os.Rename(part, abs); err != nil {
		return replaced, fmt.Errorf("bench %w", err)
	}
	if r.Renamed != nil {
		r.Renamed()
	}
	for _, tail := range []string{"-wal", "-shm"} {
		if err := os.Remove(abs + tail); err != nil && !errors.Is(err, os.ErrNotExist) {
			return replaced, fmt.Errorf("%s%s belongs to the replaced bench and cannot be removed (%w); remove it by hand", r.Path, tail, err)
		}
	}
	return replaced, flush(filepath.Dir(abs))
}

// unmoved refuses, as busy, a file that is not at abs any more because a copy took
// its place while it was opened: what is stored in it would be lost. info is of the
// file that was there before. Whoever has the bench open, and has read from it, keeps
// copies from taking its place.
func unmoved(abs, shown string, info os.FileInfo) error {
	if now, err := os.Stat(abs); err == nil && os.SameFile(info, now) {
		return nil
	}
	return fmt.Errorf("%s: %w: another program restores it; wait for it and try again", shown, engine.ErrBusy)
}

// lay copies the backup to a part, and has it checked.
func (r Restoring) lay(ctx context.Context, part string) error {
	switch info, err := os.Stat(r.Backup); {
	case err == nil && info.IsDir():
		return fmt.Errorf("backup %s: %w: it is a folder; name the file in it that %s wrote", r.Backup, engine.ErrNotBench, remedy.Verb("backup"))
	case err != nil || !info.Mode().IsRegular():
		return fmt.Errorf("backup %s: %w: no such file; name one that %s wrote", r.Backup, engine.ErrNoBench, remedy.Verb("backup"))
	}
	for _, tail := range []string{"", "-wal"} { // a backup that was left open has a log
		if err := copyFile(part+tail, r.Backup+tail); err != nil && (tail == "" || !errors.Is(err, os.ErrNotExist)) {
			return fmt.Errorf("backup %s: cannot be copied (%w); make room and try again", r.Backup, err)
		}
	}
	err := r.Check(part)
	if err == nil {
		err = explain(part, brand(ctx, part))
	}
	if err != nil {
		return fmt.Errorf("backup %s: %w", r.Backup, renamed{err, part, r.Backup})
	}
	return flush(part)
}

// renamed is an error that calls a temporary file by the name it stands for, and
// does not advise to restore what is being restored.
type renamed struct {
	error
	part, name string
}

func (r renamed) Error() string {
	const instead = "name another backup"
	text := strings.NewReplacer(r.part, r.name, "name another file or run "+engine.RestoreVerb, instead, engine.KeepFile, instead,
		"run "+engine.InitVerb(r.part), instead).Replace(r.error.Error())
	return strings.TrimPrefix(text, r.name+": ")
}
func (r renamed) Unwrap() error { return r.error }

// setAside links the bench at abs and its log to a name that tells the time, and
// returns it; where files cannot have two names it renames them.
func setAside(abs string, now time.Time) (string, error) {
	ext := filepath.Ext(abs)
	stem := strings.TrimSuffix(abs, ext) + ".replaced." + now.UTC().Format("20060102T150405")
	for n := 1; ; n++ {
		name := stem + ext
		if n > 1 {
			name = fmt.Sprintf("%s-%d%s", stem, n, ext)
		}
		err := alias(abs, name)
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err == nil {
			if err = alias(abs+"-wal", name+"-wal"); errors.Is(err, os.ErrNotExist) {
				err = nil
			}
		}
		return name, err
	}
}

func alias(old, name string) error {
	err := os.Link(old, name)
	if err == nil || errors.Is(err, os.ErrExist) || errors.Is(err, os.ErrNotExist) {
		return err
	}
	if _, err := os.Lstat(name); err == nil {
		return os.ErrExist
	}
	return os.Rename(old, name)
}

// Remove removes the file of a bench that nobody has open, and what lies beside it.
func Remove(path string) {
	for _, tail := range []string{"", "-wal", "-shm", "-journal"} {
		os.Remove(path + tail)
	}
}

func copyFile(to, from string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

// flush syncs a file or a folder to the disk.
func flush(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil {
		if info, e := f.Stat(); e == nil && info.IsDir() {
			return nil // folders cannot be synced everywhere
		}
		return err
	}
	return nil
}

// BeginsWith tells whether a file begins with a text, for what is wrong with one that
// is no bench.
func BeginsWith(path, text string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	start := make([]byte, len(text))
	_, err = io.ReadFull(f, start)
	return err == nil && string(start) == text
}
