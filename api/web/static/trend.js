// Draws how a tire wears, from the numbers that the page brings along.
"use strict";

const trendToken = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();

// trendOption is the drawing along one axis, for so many pixels of width. A band
// is one polygon: along its least depths and back along its greatest.
function trendOption(data, along, width) {
  const axis = data[along];
  const ink = trendToken("ink"), soft = trendToken("soft"), rule = trendToken("rule"), sheet = trendToken("sheet");
  const off = trendToken("off"), pull = trendToken("now"), plan = trendToken("plan");
  const font = { color: ink, fontFamily: getComputedStyle(document.body).fontFamily, fontSize: 12 };
  const plain = { type: "line", symbol: "none", silent: true };
  const band = (points) => ({ type: "custom", silent: true, clip: true, data: points || [], encode: { x: 0, y: [1, 2] }, renderItem: (at, api) => at.dataIndex > 0 ? null : {
    type: "polygon", style: { fill: plan, opacity: 0.16 },
    shape: { points: [...points.map(([x, low]) => api.coord([x, low])), ...points.map(([x, , high]) => api.coord([x, high])).reverse()] },
  } });
  const upright = (x, text, width) => ({ xAxis: x, lineStyle: { color: ink, type: [2, 3], width }, label: { formatter: text, position: "insideEndTop", color: ink } });
  const marks = [
    ...(data.limits || []).map((l) => ({ yAxis: l.at, lineStyle: { color: l.legal ? off : pull, type: l.legal ? "solid" : [5, 3], width: 2 },
      label: { formatter: l.name, position: l.legal ? "insideStartBottom" : "insideStartTop", color: l.legal ? off : pull } })),
    ...(axis.turns || []).map((t) => upright(t.x, t.text, 1)),
    ...(axis.now === null ? [] : [upright(axis.now, "today", 1.5)]),
  ];
  const dots = (doubtful) => (axis.read || []).filter((d) => d.doubtful === doubtful).map((d) => ({ value: d.at, name: d.text }));
  const seen = { type: "scatter", tooltip: { formatter: (p) => p.name } };
  return {
    animation: false,
    useUTC: true, // dates come as the depot's clock stood
    textStyle: font,
    grid: { left: 12, right: 34, top: 34, bottom: 30, containLabel: true },
    tooltip: { trigger: "item", renderMode: "richText", confine: true, backgroundColor: sheet, borderColor: rule, textStyle: font },
    xAxis: { type: along === "date" ? "time" : "value", max: axis.end, name: along === "date" ? "" : `${data.travel} run since the first reading`, nameLocation: "middle", nameGap: 28,
      nameTextStyle: font, splitNumber: width < 480 ? 3 : 6, axisLabel: { ...font, hideOverlap: true, showMaxLabel: false, ...(along === "date" ? {} : { formatter: (n) => numeral.number(n, 0) }) }, axisLine: { lineStyle: { color: soft } }, splitLine: { show: false } },
    yAxis: { type: "value", min: 0, name: data.depth, nameTextStyle: { ...font, align: "left" }, axisLabel: { ...font, formatter: (n) => numeral.number(n, 1) }, splitLine: { lineStyle: { color: rule } } },
    series: [
      band(axis.band90), band(axis.band80),
      { ...plain, data: axis.line || [], lineStyle: { color: ink, width: 2.25 },
        markLine: { symbol: "none", silent: true, data: marks, label: { fontFamily: font.fontFamily, fontSize: 12, distance: 6, textBorderColor: sheet, textBorderWidth: 3 } } },
      { ...plain, data: axis.median || [], lineStyle: { color: plan, width: 2.25, type: [6, 4] } },
      { ...seen, data: dots(false), symbolSize: 8, itemStyle: { color: ink, borderColor: sheet, borderWidth: 1 } },
      { ...seen, data: dots(true), symbol: "circle", symbolSize: 11, itemStyle: { color: "transparent", borderColor: off, borderWidth: 2 } },
    ],
  };
}

for (const figure of document.querySelectorAll("figure.trend")) {
  const data = JSON.parse(figure.querySelector("script[type='application/json']").textContent);
  const place = figure.querySelector(".trend-curve"), choice = figure.querySelector(".trend-axis");
  place.hidden = false;
  if (choice) choice.hidden = false;
  const chart = echarts.init(place, null, { renderer: "canvas" });
  const draw = () => chart.setOption(trendOption(data, choice?.querySelector(":checked").value || "date", place.clientWidth), true);
  draw();
  place.removeAttribute("data-loading");
  choice?.addEventListener("change", draw);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  new ResizeObserver(() => { chart.resize(); draw(); }).observe(place);
  matchMedia("print").addEventListener("change", () => { draw(); chart.getZr().flush(); }); // paper is light
  addEventListener("beforeprint", () => { figure.querySelector("details").open = true; });
}
