package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"masstone/color/remedy"
	"masstone/recipes/outfile"
	"os"
	"path/filepath"
	"strings"
)

// A Restored says what Restore did.
type Restored struct {
	Checked         // what the backup holds
	Replaced string // where the bench that was there is now; empty if none was
}

// Restore puts a copy of a backup in the place of the bench at path. The copy is
// checked as Verify does before anything is touched: if it has problems they are
// in the answer and the error is ErrDamaged. A bench in use is refused with
// ErrBusy. What is replaced, with its write-ahead log, is kept beside it under
// the name in the answer.
//
// The new file comes in by one rename. If the machine dies before it, the bench
// is as it was; if between it and the removal of the old log, opening refuses
// the bench (see ownLog) until Restore has run again.
func Restore(ctx context.Context, path, backup string, o Options) (Restored, error) {
	if InDatabase(path) {
		return Restored{}, notFile("restore", path, "restored by pg_restore")
	}
	o.fill()
	abs, err := filepath.Abs(path)
	if err != nil {
		return Restored{}, fmt.Errorf("bench %s: %w", path, err)
	}
	if a, err := os.Stat(path); err == nil {
		if b, err := os.Stat(backup); err == nil && os.SameFile(a, b) {
			return Restored{}, fmt.Errorf("restore: %w: %s is the bench itself; name a backup", ErrInvalid, backup)
		}
	}
	part, drop, err := outfile.Part(filepath.Dir(abs))
	if err != nil {
		return Restored{}, fmt.Errorf("restore: cannot write beside the bench (%w)", err)
	}
	defer drop()
	defer removeBench(part)
	checked, err := checkedCopy(ctx, part, backup, o)
	done := Restored{Checked: checked}
	if err != nil {
		return done, err
	}
	lock, err := lockAll(abs)
	switch {
	case errors.Is(err, os.ErrNotExist):
	case errors.Is(err, ErrBusy):
		return done, fmt.Errorf("%s: %w: another program has it open; close it and try again", path, ErrBusy)
	case err != nil:
		return done, fmt.Errorf("bench %w", err)
	default:
		defer lock.Close()
		if done.Replaced, err = setAside(abs, o); err != nil {
			return done, fmt.Errorf("%s: cannot be kept under another name (%w); make room beside it and try again, nothing was changed", path, err)
		}
	}
	if o.locked != nil {
		o.locked()
	}
	// Who opens the copy before the old log is gone would have it replayed: the lock
	// of the copy makes them wait.
	hold, err := lockAll(part)
	if err != nil {
		return done, fmt.Errorf("bench %w", err)
	}
	defer hold.Close()
	if err := os.Rename(part, abs); err != nil {
		return done, fmt.Errorf("bench %w", err)
	}
	if o.renamed != nil {
		o.renamed()
	}
	for _, tail := range []string{"-wal", "-shm"} {
		if err := os.Remove(abs + tail); err != nil && !errors.Is(err, os.ErrNotExist) {
			return done, fmt.Errorf("%s%s belongs to the replaced bench and cannot be removed (%w); remove it by hand", path, tail, err)
		}
	}
	if done.Replaced != "" {
		done.Replaced = filepath.Join(filepath.Dir(path), filepath.Base(done.Replaced))
	}
	return done, flush(filepath.Dir(abs))
}

// unmoved refuses, as busy, a file that is not at abs any more because a copy took
// its place while it was opened: what is stored in it would be lost. info is of the
// file that was there before. Whoever has the bench open, and has read from it, keeps
// copies from taking its place.
func unmoved(abs, shown string, info os.FileInfo) error {
	if now, err := os.Stat(abs); err == nil && os.SameFile(info, now) {
		return nil
	}
	return fmt.Errorf("%s: %w: another program restores it; wait for it and try again", shown, ErrBusy)
}

// checkedCopy copies a backup to part, brings it to the schema of this program, and
// verifies it.
func checkedCopy(ctx context.Context, part, backup string, o Options) (v Checked, err error) {
	switch info, err := os.Stat(backup); {
	case err == nil && info.IsDir():
		return v, fmt.Errorf("backup %s: %w: it is a folder; name the file in it that %s wrote", backup, ErrNotBench, remedyBackup)
	case err != nil || !info.Mode().IsRegular():
		return v, fmt.Errorf("backup %s: %w: no such file; name one that %s wrote", backup, ErrNoBench, remedyBackup)
	}
	for _, tail := range []string{"", "-wal"} { // a backup that was left open has a log
		if err := copyFile(part+tail, backup+tail); err != nil && (tail == "" || !errors.Is(err, os.ErrNotExist)) {
			return v, fmt.Errorf("backup %s: cannot be copied (%w); make room and try again", backup, err)
		}
	}
	o.spare = true
	b, err := open(ctx, part, o, false)
	if err != nil && isBundle(backup) {
		return v, fmt.Errorf("backup %s: %w: it is a bundle that %s wrote; %s takes it in", backup, ErrNotBench, remedy.Verb("export"), remedy.Verb("import", backup))
	}
	if err != nil {
		return v, fmt.Errorf("backup %s: %w", backup, renamed{err, part, backup})
	}
	v, err = b.Verify(ctx)
	if err == nil && len(v.Problems) == 0 {
		err = brand(ctx, b.db)
	}
	if err = errors.Join(err, b.Close()); err != nil {
		return v, fmt.Errorf("backup %s: %w", backup, renamed{explain(part, err), part, backup})
	}
	if n := len(v.Problems); n > 0 {
		return v, fmt.Errorf("backup %s: %w: %d problems found, the first is %s: %s; name another backup, nothing was changed", backup, ErrDamaged, n, v.Problems[0].Where, v.Problems[0].What)
	}
	return v, flush(part)
}

// isBundle tells whether a file begins as what Export writes.
func isBundle(file string) bool {
	f, err := os.Open(file)
	if err != nil {
		return false
	}
	defer f.Close()
	start := make([]byte, len(bundleStart))
	_, err = io.ReadFull(f, start)
	return err == nil && string(start) == bundleStart
}

// bundleStart is how a bundle begins.
const bundleStart = `{"bundle":"masstone"`

// renamed is an error that calls a temporary file by the name it stands for, and
// does not advise to restore what is being restored.
type renamed struct {
	error
	part, name string
}

func (r renamed) Error() string {
	const instead = "name another backup"
	text := strings.NewReplacer(r.part, r.name, "name another file or run "+restoreVerb, instead, "keep the file and run "+restoreVerb, instead,
		"run "+initVerb(r.part), instead).Replace(r.error.Error())
	return strings.TrimPrefix(text, r.name+": ")
}
func (r renamed) Unwrap() error { return r.error }

// brand gives a file a mark of its own, so that no other file's log is taken for
// its.
func brand(ctx context.Context, db *sql.DB) error { return setMark(ctx, db, newMark()) }

// setAside links the bench at abs and its log to a name that tells the time, and
// returns it; where files cannot have two names it renames them.
func setAside(abs string, o Options) (string, error) {
	ext := filepath.Ext(abs)
	stem := strings.TrimSuffix(abs, ext) + ".replaced." + o.Now().UTC().Format("20060102T150405")
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

func removeBench(path string) {
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
