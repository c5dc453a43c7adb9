package influx

import (
	"context"
	"fmt"
	"strings"
)

// Erase erases every reading of a home, and with InfluxDB 1.8 its sums too. With
// InfluxDB 2 the sums are erased from their buckets, where there are any.
func (s *Store) Erase(ctx context.Context, home string) error {
	if err := carries(home); err != nil {
		return nil // it never had any
	}
	second, err := s.isVersion2(ctx)
	if err != nil {
		return err
	}
	if second {
		err = s.eraseV2(ctx, home)
	} else {
		err = s.eraseV1(ctx, home)
	}
	if err != nil {
		return fmt.Errorf("erasing %s: %w", home, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for k := range s.newest {
		if k.home == home {
			delete(s.newest, k)
		}
	}
	return nil
}

// eraseV1 drops the home's series in all retention policies ("DROP SERIES",
// InfluxQL reference of 1.8).
func (s *Store) eraseV1(ctx context.Context, home string) error {
	database, _, _ := strings.Cut(s.opts.Bucket, "/")
	literal := "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(home) + "'"
	_, err := s.statementOn(ctx, database, `DROP SERIES WHERE "home" = `+literal)
	return err
}

// eraseV2 deletes by the tag ("Delete data", InfluxDB OSS v2 API).
func (s *Store) eraseV2(ctx context.Context, home string) error {
	predicate := `home=` + quote(home)
	for _, bucket := range []string{s.opts.Bucket, s.levelBucket(level{name: FiveMinutes}), s.levelBucket(level{name: Hours})} {
		err := s.client.DeleteAPI().DeleteWithName(ctx, s.opts.Org, bucket, beginning, end, predicate)
		if err != nil && (bucket == s.opts.Bucket || !strings.Contains(err.Error(), "not found")) {
			return fmt.Errorf("InfluxDB: bucket %s: %s", bucket, whatIsWrong(err).text)
		}
	}
	return nil
}
