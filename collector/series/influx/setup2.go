package influx

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api"
	"github.com/influxdata/influxdb-client-go/v2/domain"
)

// missingV2 compares buckets and tasks ("Manage buckets" and "Process data with
// InfluxDB tasks", InfluxDB OSS v2).
func (s *Store) missingV2(ctx context.Context, want Setup) (steps []Step, err error) {
	if s.opts.Org == "" {
		return nil, errors.New("InfluxDB 2: the organisation is not given")
	}
	org, err := s.client.OrganizationsAPI().FindOrganizationByName(ctx, s.opts.Org)
	if err != nil {
		return nil, fmt.Errorf("InfluxDB: organisation %s: %s", s.opts.Org, whatIsWrong(err).text)
	}
	step, err := s.bucketStep(ctx, org, s.opts.Bucket, want.Retention, want.Shorten)
	if err != nil {
		return nil, err
	}
	steps = append(steps, step...)
	for _, l := range want.levels() {
		if step, err = s.bucketStep(ctx, org, s.levelBucket(l), l.keep, want.Shorten); err != nil {
			return nil, err
		}
		steps = append(steps, step...)
	}
	for _, l := range want.levels() {
		if step, err = s.taskStep(ctx, org, l); err != nil {
			return nil, err
		}
		steps = append(steps, step...)
	}
	return steps, nil
}

func (s *Store) levelBucket(l level) string { return s.opts.Bucket + "_" + l.name }

func (s *Store) bucketStep(ctx context.Context, org *domain.Organization, name string, keep time.Duration, shorten bool) ([]Step, error) {
	buckets := s.client.BucketsAPI()
	rules := []domain.RetentionRule{{EverySeconds: int64(keep.Seconds())}}
	is, err := buckets.FindBucketByName(ctx, name)
	if err != nil {
		if !strings.Contains(err.Error(), "not found") {
			return nil, fmt.Errorf("InfluxDB: bucket %s: %s", name, whatIsWrong(err).text)
		}
		return []Step{{"make the bucket " + name + ", which keeps " + forHowLong(keep), func(ctx context.Context) error {
			_, err := buckets.CreateBucketWithName(ctx, org, name, rules...)
			return err
		}}}, nil
	}
	now := time.Duration(0)
	if len(is.RetentionRules) > 0 {
		now = time.Duration(is.RetentionRules[0].EverySeconds) * time.Second
	}
	text := "keep " + name + " " + forHowLong(keep)
	switch {
	case now == keep:
		return nil, nil
	case shorter(keep, now) && !shorten:
		return []Step{remark(name, now, keep)}, nil
	case shorter(keep, now):
		text += ", which deletes what is older (it keeps " + forHowLong(now) + " now)"
	}
	return []Step{{text, func(ctx context.Context) error {
		is.RetentionRules = rules
		_, err := buckets.UpdateBucket(ctx, is)
		return err
	}}}, nil
}

// taskStep makes a level's task, or brings it to what it should say.
func (s *Store) taskStep(ctx context.Context, org *domain.Organization, l level) ([]Step, error) {
	tasks := s.client.TasksAPI()
	name, flux := taskPrefix+l.name, s.task(l)
	found, err := tasks.FindTasks(ctx, &api.TaskFilter{Name: name, OrgID: *org.Id})
	if err != nil {
		return nil, fmt.Errorf("InfluxDB: task %s: %s", name, whatIsWrong(err).text)
	}
	for _, task := range found {
		if task.Name != name {
			continue
		}
		if strings.TrimSpace(task.Flux) == strings.TrimSpace(flux) {
			return nil, nil
		}
		return []Step{{"change the task " + name + ", which says something else", func(ctx context.Context) error {
			task.Flux = flux
			_, err := tasks.UpdateTask(ctx, &task)
			return err
		}}}, nil
	}
	return []Step{{"make the task " + name, func(ctx context.Context) error {
		_, err := tasks.CreateTaskByFlux(ctx, flux, *org.Id)
		return err
	}}}, nil
}

// task is a level's Flux. It begins at a whole hour, or the first window would be
// worked out from a part of its readings and put in the place of the right one.
func (s *Store) task(l level) string {
	out := fmt.Sprintf(`import "date"

option task = {name: %s, every: %s}

readings = from(bucket: %s)
    |> range(start: date.truncate(t: -1d, unit: 1h))
    |> filter(fn: (r) => r._field == "value")
`, quote(taskPrefix+l.name), l.every, quote(s.opts.Bucket))
	for _, f := range []string{"min", "mean", "max", "count"} {
		out += fmt.Sprintf(`
readings
    |> aggregateWindow(every: %s, fn: %s, createEmpty: false, timeSrc: "_start")
    |> set(key: "_field", value: %s)
    |> to(bucket: %s, org: %s)
    |> yield(name: %s)
`, l.width, f, quote(f), quote(s.levelBucket(l)), quote(s.opts.Org), quote(f))
	}
	return out
}
