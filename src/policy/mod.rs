//! Rules, due lists, forecast.
