package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// meter counts requests, in a registry of its own.
type meter struct {
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
	handler  http.Handler
}

func newMeter() *meter {
	r := prometheus.NewRegistry()
	m := &meter{
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "rimledger_http_requests_total",
			Help: "Requests answered, by method, route and status."}, []string{"method", "route", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "rimledger_http_request_seconds",
			Help:    "Time to answer a request, by method and route.",
			Buckets: []float64{.001, .0025, .005, .01, .015, .02, .05, .1, .25, 1, 5}}, []string{"method", "route"}),
		handler: promhttp.HandlerFor(r, promhttp.HandlerOpts{}),
	}

	r.MustRegister(
		m.requests,
		m.seconds,
		collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
	)

	return m
}

// count measures one request under its route, never its path: the number of
// series must stay small.
func (m *meter) count(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		began := time.Now()
		if err := next(c); err != nil {
			c.Error(err) // answered here, so that the status is known
		}

		route, method := c.Path(), c.Request().Method
		if route == "" {
			route = "none"
		}

		switch method {
		case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodDelete:
		default:
			method = "other"
		}

		m.requests.WithLabelValues(method, route, strconv.Itoa(c.Response().Status)).Inc()
		m.seconds.WithLabelValues(method, route).Observe(time.Since(began).Seconds())
		return nil
	}
}
