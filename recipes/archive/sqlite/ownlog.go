package sqlite

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"time"

	"masstone/recipes/archive/engine"
)

// A mark stands in the header of the file, as SQLite's user version: 15 bits that
// the file drew by lot, then 16 bits that count its changes. Every change writes
// it, so that the write-ahead log holds it too, and a log that was left beside
// another file is known by it: SQLite itself would replay it. 0 is a file that was
// not changed since it was made, or by an older program.
type mark uint32

func newMark() mark         { return mark(1+rand.N[uint32](1<<15-1)) << 16 }
func (m mark) next() mark   { return m&^0xffff | (m+1)&0xffff }
func (m mark) count() int   { return int(m & 0xffff) }
func (m mark) file() uint32 { return uint32(m >> 16) }

func setMark(ctx context.Context, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, m mark) error {
	_, err := db.ExecContext(ctx, fmt.Sprintf(`PRAGMA user_version = %d`, m)) // takes no parameter
	return err
}

// ownLog refuses a bench whose write-ahead log was left by another file, such as
// the one it was copied over. A file in use changes meanwhile, so a log counts as
// foreign only if the file beside it stayed as it was.
func ownLog(ctx context.Context, abs, shown string) error {
	if info, err := os.Stat(abs + "-wal"); err != nil || info.Size() == 0 {
		return nil
	}
	for range 20 {
		before, err := markOf(ctx, abs)
		if err != nil {
			return nil // what is wrong with the file is told when it is opened
		}
		marks, pages, err := logged(abs + "-wal")
		if err != nil || pages == 0 || belongs(before, marks) {
			return nil
		}
		if after, err := markOf(ctx, abs); err == nil && after == before {
			lock, err := lockAll(abs)
			if errors.Is(err, engine.ErrBusy) { // a restore puts a copy in its place and is about to remove the log
				return fmt.Errorf("%s: %w: another program restores it; wait for it and try again", shown, engine.ErrBusy)
			}
			if err == nil { // nobody restores now, but one may have ended since the log was read
				marks, pages, again := logged(abs + "-wal")
				lock.Close()
				if again != nil || pages == 0 || belongs(before, marks) {
					return nil
				}
			}
			return fmt.Errorf("%s: %w: the file %s-wal beside it is of another state of it, as when a copy was put over a bench; put nothing over it by hand, run %s",
				shown, engine.ErrDamaged, shown, engine.RestoreVerb)
		}
		time.Sleep(time.Millisecond)
	}
	return nil
}

// belongs tells whether a log with those marks follows on a file with mark m: the
// log begins with the change after it or before that, and goes at least as far.
func belongs(m mark, log []mark) bool {
	if m == 0 {
		return len(log) == 0 || log[0] == 0 || log[0].count() == 1
	}
	if len(log) == 0 {
		return false
	}
	first, last := log[0], log[len(log)-1]
	span := (last.count() - first.count()) & 0xffff
	return first.file() == m.file() && (m.next().count()-first.count())&0xffff <= span+1
}

// markOf reads the mark of the file itself, without its log. SQLite reads it: to
// open and close the file beside SQLite would release the locks that this process
// holds on it.
func markOf(ctx context.Context, abs string) (m mark, err error) {
	db, err := sql.Open("sqlite", DSN(abs, 0, "mode=ro", "immutable=1"))
	if err != nil {
		return 0, err
	}
	defer db.Close()
	err = db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&m)
	return m, err
}

// logged reads the marks in the committed part of a write-ahead log, oldest first,
// and counts its pages. The layout is of sqlite.org/fileformat2.html, "The
// Write-Ahead Log"; the mark is at byte 60 of page 1.
func logged(path string) (marks []mark, pages int, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	defer f.Close()
	head := make([]byte, 32)
	if _, err := io.ReadFull(f, head); err != nil {
		return nil, 0, nil
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[3]&1 == 1 {
		order = binary.BigEndian
	}
	size := binary.BigEndian.Uint32(head[8:])
	if binary.BigEndian.Uint32(head)&^1 != 0x377f0682 || size < 512 || size > 65536 {
		return nil, 0, errors.New("not a log")
	}
	var s0, s1 uint32
	sum := func(b []byte) {
		for ; len(b) >= 8; b = b[8:] {
			s0 += order.Uint32(b) + s1
			s1 += order.Uint32(b[4:]) + s0
		}
	}
	matches := func(b []byte) bool {
		return binary.BigEndian.Uint32(b) == s0 && binary.BigEndian.Uint32(b[4:]) == s1
	}
	if sum(head[:24]); !matches(head[24:]) {
		return nil, 0, nil
	}
	frame := make([]byte, 24+size)
	var open []mark // of a change not committed yet
	for n := 1; ; n++ {
		if _, err := io.ReadFull(f, frame); err != nil || string(frame[8:16]) != string(head[16:24]) {
			return marks, pages, nil
		}
		sum(frame[:8])
		if sum(frame[24:]); !matches(frame[16:]) {
			return marks, pages, nil
		}
		if binary.BigEndian.Uint32(frame) == 1 {
			open = append(open, mark(binary.BigEndian.Uint32(frame[24+60:])))
		}
		if binary.BigEndian.Uint32(frame[4:]) != 0 {
			marks, open, pages = append(marks, open...), nil, n
		}
	}
}
