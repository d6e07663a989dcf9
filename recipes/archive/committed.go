package archive

import "context"

// newestLine is the number of the newest line of the log, 0 if there is none.
func (c *change) newestLine(ctx context.Context) (n int64, err error) {
	err = c.QueryRowContext(ctx, "SELECT coalesce(max(id), 0) FROM log").Scan(&n)
	return n, err
}

// linesAfter are the lines that the transaction added to the log.
func (c *change) linesAfter(ctx context.Context, n int64) ([]LogLine, error) {
	rows, err := c.QueryContext(ctx, "SELECT id, verb, subject, detail FROM log WHERE id > ? ORDER BY id", n)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var lines []LogLine
	for rows.Next() {
		l := LogLine{At: c.stamp.At, Who: c.stamp.Who, Program: c.stamp.Program}
		if err := rows.Scan(&l.ID, &l.Verb, &l.Subject, &l.Detail); err != nil {
			return nil, err
		}
		lines = append(lines, l)
	}
	return lines, rows.Err()
}

// committed tells what became of a transaction whose commit failed, by what it added
// to the log: nil if it is on the bench, whatever became of the context it ran in.
func (b *Bench) committed(failed error, lines []LogLine) error {
	if len(lines) == 0 {
		return b.explain(failed)
	}
	l := lines[len(lines)-1]
	return b.on.Committed(failed, b.on.Dialect("SELECT count(*) FROM log WHERE id = ? AND at = ? AND who = ? AND verb = ? AND subject = ? AND detail = ?"),
		l.ID, l.At.Format(stampLayout), l.Who, l.Verb, l.Subject, l.Detail)
}
