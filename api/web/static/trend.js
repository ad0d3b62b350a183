// Draws how a tire wears, from the numbers that the page brings along.
import "./echarts-5.6.0.min.js"; // no module: it makes one global
import * as numeral from "./numeral.js";

const { echarts } = globalThis;

const NARROW = 480; // pixels
const PLAIN_LINE = { type: "line", symbol: "none", silent: true };

for (const figure of document.querySelectorAll("figure.trend")) show(figure);

function show(figure) {
  const data = JSON.parse(figure.querySelector("script[type='application/json']").textContent);
  const place = figure.querySelector(".trend-curve");
  const choice = figure.querySelector(".trend-axis");
  place.hidden = false;
  if (choice) choice.hidden = false;

  const chart = echarts.init(place, null, { renderer: "canvas" });
  const draw = () => {
    const along = choice?.querySelector(":checked").value || "date";
    chart.setOption(drawing(data, along, place.clientWidth), true);
  };
  draw();
  place.removeAttribute("data-loading");

  choice?.addEventListener("change", draw);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  new ResizeObserver(() => {
    chart.resize();
    draw();
  }).observe(place);

  // Paper is light, and has no folds.
  matchMedia("print").addEventListener("change", () => {
    draw();
    chart.getZr().flush();
  });
  addEventListener("beforeprint", () => {
    figure.querySelector("details").open = true;
  });
}

// drawing is what ECharts draws along one axis, for so many pixels of width.
function drawing(data, along, width) {
  const axis = data[along];
  const colors = tokens("ink", "soft", "rule", "sheet", "off", "now", "plan");
  const font = { color: colors.ink, fontFamily: getComputedStyle(document.body).fontFamily, fontSize: 12 };
  return {
    animation: false,
    useUTC: true, // dates come as the depot's clock stood
    textStyle: font,
    grid: { left: 12, right: 34, top: 34, bottom: 30, containLabel: true },
    tooltip: {
      trigger: "item",
      renderMode: "richText",
      confine: true,
      backgroundColor: colors.sheet,
      borderColor: colors.rule,
      textStyle: font,
    },
    xAxis: travelAxis(data, along, width, colors, font),
    yAxis: depthAxis(data, colors, font),
    series: [
      band(axis.band90, colors),
      band(axis.band80, colors),
      estimate(data, axis, colors, font),
      ahead(axis, colors),
      ...readings(axis, colors),
    ],
  };
}

// tokens are colors of the style sheet, by their names.
function tokens(...names) {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(names.map((name) => [name, style.getPropertyValue("--" + name).trim()]));
}

function travelAxis(data, along, width, colors, font) {
  const isDate = along === "date";
  const format = isDate ? {} : { formatter: (distance) => numeral.number(distance, 0) };
  return {
    type: isDate ? "time" : "value",
    max: data[along].end,
    name: isDate ? "" : `${data.travel} run since the first reading`,
    nameLocation: "middle",
    nameGap: 28,
    nameTextStyle: font,
    splitNumber: width < NARROW ? 3 : 6,
    axisLabel: { ...font, hideOverlap: true, showMaxLabel: false, ...format },
    axisLine: { lineStyle: { color: colors.soft } },
    splitLine: { show: false },
  };
}

function depthAxis(data, colors, font) {
  return {
    type: "value",
    min: 0,
    name: data.depth,
    nameTextStyle: { ...font, align: "left" },
    axisLabel: { ...font, formatter: (depth) => numeral.number(depth, 1) },
    splitLine: { lineStyle: { color: colors.rule } },
  };
}

// band is one polygon: along its least depths and back along its greatest.
function band(points, colors) {
  const polygon = (api) => [
    ...points.map(([x, least]) => api.coord([x, least])),
    ...points.map(([x, , greatest]) => api.coord([x, greatest])).reverse(),
  ];
  const style = { fill: colors.plan, opacity: 0.16 };
  return {
    type: "custom",
    silent: true,
    clip: true,
    data: points || [],
    encode: { x: 0, y: [1, 2] },
    renderItem: (at, api) => (at.dataIndex > 0 ? null : { type: "polygon", style, shape: { points: polygon(api) } }),
  };
}

// estimate is the line through the readings, with what it is held against.
function estimate(data, axis, colors, font) {
  const label = {
    fontFamily: font.fontFamily,
    fontSize: 12,
    distance: 6,
    textBorderColor: colors.sheet,
    textBorderWidth: 3,
  };
  return {
    ...PLAIN_LINE,
    data: axis.line || [],
    lineStyle: { color: colors.ink, width: 2.25 },
    markLine: { symbol: "none", silent: true, data: marks(data, axis, colors), label },
  };
}

// marks are lines at the limits, at moves of the tire and at today.
function marks(data, axis, colors) {
  const limit = ({ at, name, legal: isLegal }) => {
    const color = isLegal ? colors.off : colors.now;
    return {
      yAxis: at,
      lineStyle: { color, type: isLegal ? "solid" : [5, 3], width: 2 },
      label: { formatter: name, position: isLegal ? "insideStartBottom" : "insideStartTop", color },
    };
  };
  const upright = (x, text, width) => ({
    xAxis: x,
    lineStyle: { color: colors.ink, type: [2, 3], width },
    label: { formatter: text, position: "insideEndTop", color: colors.ink },
  });
  return [
    ...(data.limits || []).map(limit),
    ...(axis.turns || []).map((turn) => upright(turn.x, turn.text, 1)),
    ...(axis.now === null ? [] : [upright(axis.now, "today", 1.5)]),
  ];
}

function ahead(axis, colors) {
  return { ...PLAIN_LINE, data: axis.median || [], lineStyle: { color: colors.plan, width: 2.25, type: [6, 4] } };
}

// readings are dots, those in doubt as rings.
function readings(axis, colors) {
  const dots = (isDoubtful) =>
    (axis.read || [])
      .filter((reading) => reading.doubtful === isDoubtful)
      .map((reading) => ({ value: reading.at, name: reading.text }));
  const plain = { type: "scatter", tooltip: { formatter: (dot) => dot.name } };
  return [
    {
      ...plain,
      data: dots(false),
      symbolSize: 8,
      itemStyle: { color: colors.ink, borderColor: colors.sheet, borderWidth: 1 },
    },
    {
      ...plain,
      data: dots(true),
      symbol: "circle",
      symbolSize: 11,
      itemStyle: { color: "transparent", borderColor: colors.off, borderWidth: 2 },
    },
  ];
}
