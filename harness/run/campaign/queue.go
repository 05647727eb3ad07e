// Package campaign flies one campaign, up to millions of flights, on many machines. A sender packs the files of the
// campaign into a bundle and puts batches of flights into a work queue of NATS JetStream; workers take batches, fly
// them, and send the verdicts back, and records where they are wanted. A batch whose worker died is handed out again; a
// result that came twice counts once. The sender gets the results in the order of the flights, the same to the bit
// whatever the number of workers.
//
// A worker flies built-in boards for everybody at the queue. A board of its own flies only as the bench that its command
// line offers by name: no program and no port is ever named by a bundle. Whoever can write to the queue can claim any
// result; see to it with the credentials of the server.
package campaign

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Names of what is kept at the server.
const (
	workStream    = "DRYSTAGE_WORK"
	resultStream  = "DRYSTAGE_RESULTS"
	bundleStore   = "drystage-bundles"
	recordStore   = "drystage-records"
	workerBucket  = "drystage-workers"
	workSubject   = "drystage.work"
	resultSubject = "drystage.result"
	noteSubject   = "drystage.note"
)

// How long things are kept at the server, and how long it waits for a worker.
const (
	keep     = 7 * 24 * time.Hour
	back     = 5 * time.Second  // for which a server that can't be reached may be about to come back
	lease    = 10 * time.Second // after which a batch is handed out again if its worker gave no sign
	signEach = lease / 4
	doubled  = 10 * time.Minute // within which the server itself drops a second result
	away     = 12 * time.Second // after which a worker that gives no sign isn't listed any more
)

// Options say where the queue is and who we are there.
type Options struct {
	URL         string
	Credentials string // a file of NATS user credentials; empty: none
	CA          string // a file of certificates that the server's must follow from; empty: the system's
	Cert, Key   string // files of our own certificate; empty: none
	Name        string // of this connection, for the server's own lists
}

// Queue is a connection to the server.
type Queue struct {
	conn *nats.Conn
	js   jetstream.JetStream
}

// Connect reaches the server, and makes there what campaigns need.
func Connect(ctx context.Context, opt Options) (*Queue, error) {
	with := []nats.Option{
		nats.Name(opt.Name), nats.MaxReconnects(-1), nats.ReconnectWait(250 * time.Millisecond),
		nats.ReconnectJitter(100*time.Millisecond, time.Second), nats.Timeout(5 * time.Second),
	}
	if opt.Credentials != "" {
		with = append(with, nats.UserCredentials(opt.Credentials))
	}
	if opt.CA != "" {
		with = append(with, nats.RootCAs(opt.CA))
	}
	if opt.Cert != "" || opt.Key != "" {
		with = append(with, nats.ClientCert(opt.Cert, opt.Key))
	}
	conn, err := reach(ctx, opt.URL, with)
	if err != nil {
		return nil, fmt.Errorf("the queue %s: %w", opt.URL, err)
	}
	js, err := jetstream.New(conn, jetstream.WithDefaultTimeout(5*time.Second))
	if err == nil {
		err = ready(ctx, js)
	}
	if err != nil {
		conn.Close()
		if errors.Is(err, jetstream.ErrJetStreamNotEnabled) || errors.Is(err, nats.ErrNoResponders) {
			err = errors.New("the server has no JetStream; start it with nats-server -js")
		}
		return nil, fmt.Errorf("the queue %s: %w", opt.URL, err)
	}
	return &Queue{conn, js}, nil
}

// reach connects; a server that just restarts may be away for a moment.
func reach(ctx context.Context, url string, with []nats.Option) (conn *nats.Conn, err error) {
	within, stop := context.WithTimeout(ctx, back)
	defer stop()
	_ = again(within, func() error {
		conn, err = nats.Connect(url, with...)
		if errors.Is(err, nats.ErrNoServers) {
			return err
		}
		return nil
	})
	if err != nil {
		return nil, cmp.Or(ctx.Err(), err)
	}
	return conn, nil
}

// ready prepares the server. One that restarts just then does not answer; what it answers counts at once.
func ready(ctx context.Context, js jetstream.JetStream) (err error) {
	waited := soon(ctx, func() error {
		err = prepare(ctx, js)
		if answer := (jetstream.JetStreamError)(nil); errors.As(err, &answer) || errors.Is(err, nats.ErrNoResponders) {
			return nil
		}
		return err
	})
	return cmp.Or(err, waited)
}

// prepare makes the streams and stores, unless they are there.
func prepare(ctx context.Context, js jetstream.JetStream) error {
	streams := []jetstream.StreamConfig{
		{Name: workStream, Subjects: []string{workSubject + ".>"}, Retention: jetstream.WorkQueuePolicy},
		{Name: resultStream, Subjects: []string{resultSubject + ".>"}, Retention: jetstream.LimitsPolicy},
	}
	for _, c := range streams {
		c.MaxAge, c.Duplicates, c.Storage = keep, doubled, jetstream.FileStorage
		if _, err := js.CreateOrUpdateStream(ctx, c); err != nil {
			return err
		}
	}
	for _, bucket := range []string{bundleStore, recordStore} {
		if _, err := js.CreateOrUpdateObjectStore(ctx, jetstream.ObjectStoreConfig{Bucket: bucket, TTL: keep}); err != nil {
			return err
		}
	}
	_, err := js.CreateOrUpdateKeyValue(ctx, jetstream.KeyValueConfig{Bucket: workerBucket, TTL: away})
	return err
}

// Close leaves the server, after what was written has gone out.
func (q *Queue) Close() { _ = q.conn.Drain() }

// again calls do until it succeeds or ctx is done: the server may be away for a while.
func again(ctx context.Context, do func() error) error {
	for {
		err := do()
		if err == nil {
			return nil
		}
		select {
		case <-ctx.Done():
			return cmp.Or(ctx.Err(), err)
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// restart is how long a server may be away, or still be reading its streams, before an error counts.
const restart = 15 * time.Second

// soon calls do again for as long as a server may take to restart, and gives its last error.
func soon(ctx context.Context, do func() error) (err error) {
	within, stop := context.WithTimeout(ctx, restart)
	defer stop()
	if again(within, func() error { err = do(); return err }) == nil {
		return nil
	}
	return cmp.Or(ctx.Err(), err)
}

func workOf(need, campaign string) string { return workSubject + "." + need + "." + campaign }

func resultOf(campaign string, batch int) string {
	return fmt.Sprintf("%s.%s.%d", resultSubject, campaign, batch)
}

func recordName(campaign string, flight int) string { return fmt.Sprintf("%s.%d", campaign, flight) }
