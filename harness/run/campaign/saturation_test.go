package campaign

import (
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkSaturation measures how many batches a second pass through a server with 200 workers whose flights are replaced by
// sleeps of 10 ms: with one flight a batch, and with eight. Server and workers share this computer.
func BenchmarkSaturation(b *testing.B) {
	for _, batch := range []int{1, 8} {
		b.Run(map[int]string{1: "1", 8: "8"}[batch]+"FlightsABatch", func(b *testing.B) {
			const connections, jobs = 10, 20
			s := startServer(b)
			campaign := shortBundle(b, max(b.N, connections*jobs)*batch)
			campaign.Batch = batch
			for range connections {
				startWorker(b, &Worker{Queue: s.connect(b), Name: "asleep", Jobs: jobs, standIn: func(n int) []Flown {
					time.Sleep(time.Duration(n) * 10 * time.Millisecond)
					return make([]Flown, n)
				}})
			}
			b.ResetTimer()
			got, err := send(b.Context(), s.connect(b), campaign, new(notes))
			took := b.Elapsed()
			require.NoError(b, err)
			require.Len(b, got, campaign.All())
			b.ReportMetric(float64(campaign.All())/took.Seconds(), "flights/s")
			b.ReportMetric(float64(campaign.batches())/took.Seconds(), "batches/s")
			b.ReportMetric(float64(runtime.NumCPU()), "processors")
		})
	}
}
